// What a scan says back, by looking at a list: the same words as inventory/saying.py, held to one table by the tests.

const IN = new Set(["packed", "fitted"]);

/**
 * @typedef {{verb: string, place?: string, place_words?: string, bay?: string, sets?: string[]}} Doing
 * @typedef {{words: string, to?: string, to_words?: string, drive_set?: string, bay?: string,
 *   done_place?: string, done_bay?: string, done_at?: string, done_by?: string}} Line
 * @param {Doing} doing @param {Line|null} line @param {string} code @returns {{word: string, sentence: string}}
 */
export function says(doing, line, code) {
  if (!line) {
    return { word: "unknown", sentence: `${code} is not in this book yet. It is kept: found here, or adopt it at the desk.` };
  }
  if (isDone(doing, line)) return { word: "already done", sentence: `${line.words}: already ${where(doing)}${since(line)}.` };
  const wrong = wrongBay(doing, line) || wrongPlace(doing, line);
  if (wrong) return { word: "wrong", sentence: wrong };
  return { word: "good", sentence: `${line.words} ${where(doing)}.` };
}

/** The doing as words that follow a name: "on Teasel", "in HER-04, A", "seen". @param {Doing} doing */
export function where(doing) {
  if (!doing.place) return doing.verb;
  const preposition = doing.verb === "loaded" ? "on" : IN.has(doing.verb) ? "in" : "at";
  return `${preposition} ${doing.place_words}${doing.bay ? `, ${doing.bay}` : ""}`;
}

function isDone(doing, line) {
  return Boolean(doing.place) && line.done_place === doing.place && (!doing.bay || doing.bay === (line.done_bay || ""));
}

function since(line) {
  return (line.done_at ? ` at ${line.done_at}` : "") + (line.done_by ? ` by ${line.done_by}` : "");
}

function wrongBay(doing, line) {
  if (!doing.bay || !doing.sets || !doing.sets.length) return "";
  const wanted = `${doing.bay} here is for ${doing.sets.join(" or ")}`;
  if (!line.drive_set) return `This is ${line.words}, in no set. ${wanted}.`;
  if (!doing.sets.includes(line.drive_set)) return `This is ${line.drive_set}'s ${line.bay || "drive"}. ${wanted}.`;
  if (line.bay && line.bay !== doing.bay) return `This is ${line.drive_set}'s ${line.bay}, not ${doing.bay}.`;
  return "";
}

function wrongPlace(doing, line) {
  if (!doing.place || !line.to || line.to === doing.place) return "";
  return `${line.words} goes ${line.to_words}. Recorded ${where(doing)} all the same.`;
}
