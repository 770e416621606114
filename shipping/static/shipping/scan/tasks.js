// What a person can be doing, and what one scan means then. Pure: a scan in; what to store, what to say, what comes next out.

import { codeIn } from "./codes.js";
import { says } from "./saying.js";

/**
 * @typedef {{drafts: object[], word: string, sentence: string, next?: object, ask?: string}} Step
 *   drafts: bodies of one act, in order; next: changes to the doing; ask: a form to open.
 * @typedef {{task: string, leg?: number, place?: string, words?: string, frame?: string, bay?: string, box?: string,
 *   out?: string, sealing?: string, system?: string, fine?: boolean}} Doing
 */

const show = (day, leg) => (leg?.show ? { reference: leg.show } : {});
const good = (sentence, more = {}) => ({ drafts: [], word: "good", sentence, ...more });
const wrong = (sentence, more = {}) => ({ drafts: [], word: "wrong", sentence, ...more });

/** What was said of a thing put somewhere; a stranger is told as one, and kept all the same. */
function told(day, thing, code, doing) {
  return thing ? says(doing, day.line(thing, doing), thing.code) : day.stranger(code);
}

function put(day, thing, code, doing, more = {}) {
  const { word, sentence } = told(day, thing, code, doing);
  const draft = { verb: doing.verb, code, place: doing.place, ...(doing.bay ? { bay: doing.bay } : {}), grade: "scan", ...more };
  return { drafts: [draft], word, sentence };
}

function load(day, doing, thing, code) {
  const leg = legOf(day, doing);
  const on = leg.vehicle || leg.carrier || "the carrier";
  const step = put(day, thing, code, { verb: leg.load_verb, place: leg.load_place, place_words: on, leg: leg.pk }, show(day, leg));
  return twoStories(step, thing, leg.load_place, on) || withSpot(step, thing, leg);
}

/** Where it is to stand, while it is still in somebody's hands. */
function withSpot(step, thing, leg) {
  const spot = thing?.spots?.[leg.pk];
  return spot && step.word === "good" ? { ...step, sentence: step.sentence.replace(/\.$/, `: ${spot}.`) } : step;
}

/** Two phones put it on two vehicles and nobody has looked yet: this scan is kept, and that is said. */
function twoStories(step, thing, place, on) {
  const other = (thing?.others || []).find((one) => one.place !== place);
  if (!other) return null;
  return { ...step, word: "wrong", sentence: `${thing.words}: two stories. Also scanned onto ${other.words}. Recorded on ${on} all the same; look which it is on, and tell the road lead.` };
}

/** The leg being worked on, from a newer list if it still names it, else as it was when it was chosen. */
export function legOf(day, doing) {
  return day.leg(doing.leg) || doing.ride || null;
}

/** Is the case on the list of this leg? */
export function travels(thing, leg) {
  return (thing.legs || [thing.leg]).includes(leg.pk);
}

function unload(day, doing, thing, code) {
  const leg = legOf(day, doing);
  const step = put(day, thing, code, { verb: leg.unload_verb, place: leg.to_place, place_words: leg.to }, show(day, leg));
  if (thing?.kind === "case" && !travels(thing, leg) && step.word === "good") {
    return { ...step, word: "wrong", sentence: `${thing.words} is not on this list: it goes ${thing.leg_words || "with another leg"}. Recorded at ${leg.to} all the same.` };
  }
  return thing?.others?.length && step.word === "good" ? { ...step, sentence: `${step.sentence} ${hereAfterAll(thing)}` } : step;
}

/** Whoever has it in their hands has settled it; the one who waits for it elsewhere should hear so. */
function hereAfterAll({ others }) {
  return `Two phones had it on two vehicles (${others.map(({ words }) => `on ${words}`).join("; ")}): it is here, tell the road lead.`;
}

function count(day, doing, thing, code) {
  const step = unload(day, doing, thing, code);
  if (!thing || !sealOn(thing)) return { ...step, next: { sealing: "" } };
  return { ...step, sentence: `${step.sentence}${anotherSeal(thing)}`, next: { sealing: thing.code } };
}

/** The number that should be on a case: of the seal that holds, else the one that was read in its place. */
export function sealOn(thing) {
  return thing?.seal || thing?.seal_read?.number || "";
}

function anotherSeal({ seal, seal_read: read }) {
  if (seal || !read) return "";
  return ` It was sealed with ${read.was}; ${read.by} read ${read.number} on it on ${read.on}. Read its seal now.`;
}

function seen(code, more = {}) {
  return { verb: "seen", code, grade: "scan", ...more };
}

function pack(day, doing, thing, code) {
  if (thing?.kind === "case") {
    return good(`Now packing ${thing.words}. Scan what goes in.`, { drafts: [seen(code)], next: { place: thing.place, words: thing.words, box: thing.code } });
  }
  if (!doing.place) return { ...wrong("Scan the case first, then what goes in it. This scan is kept as seen."), drafts: [seen(code)] };
  const bay = thing?.kind === "drive" && thing.home_place === doing.place ? thing.bay : "";
  const step = put(day, thing, code, { verb: "packed", place: doing.place, place_words: doing.words, bay });
  return strayIn(day, doing, step, thing) || twoOfOneBay(day, step, thing, doing.place, bay) || step;
}

/** What lies here already and belongs elsewhere is no more right for having been put here before. */
function strayIn(day, doing, step, thing) {
  if (step.word !== "already done" || !thing?.home_place || thing.home_place === doing.place) return null;
  const whose = thing.kind === "drive" && thing.set ? `This is ${thing.set}'s ${thing.bay || "drive"}` : `This is ${thing.words}`;
  const { at, by } = day.where(thing);
  return { ...step, word: "wrong", sentence: `${whose}. It lies in ${doing.words} already${at ? `, put there at ${at}` : ""}${by ? ` by ${by}` : ""}; it belongs in ${thing.home}.` };
}

/** "Two Cs: which is the spare?" Never an overwrite: both are recorded, and said. */
function twoOfOneBay(day, step, thing, place, bay) {
  if (!bay || step.word !== "good") return null;
  const other = day.things.find((one) => one.code !== thing.code && day.where(one).place === place && day.where(one).bay === bay);
  if (!other) return null;
  return { ...step, word: "wrong", sentence: `Two ${bay}s: ${thing.words} and ${other.words}. Which is the spare? Both are kept.` };
}

function seal(day, doing, thing, code) {
  if (thing?.kind === "case") {
    const state = thing.seal ? `Sealed with ${thing.seal} by the list.` : "";
    return good(`${thing.words}. ${state} Read its seal, or type the number.`, { drafts: [seen(code)], next: { sealing: thing.code, words: thing.words }, ask: "seal" });
  }
  if (doing.sealing) return sealed(doing.sealing, doing.words, code);
  return { ...day.stranger(code), drafts: [seen(code)] };
}

/** The number that was read, on the case scanned before. */
export function sealed(code, words, number) {
  return good(`${words} sealed with ${number}.`, { drafts: [{ verb: "sealed", code, seal: number.slice(0, 40), grade: "scan" }], next: { sealing: "" } });
}

export function sealSeen(day, code, number) {
  const thing = day.find(code);
  const draft = { ...seen(code), seal: number.slice(0, 40) };
  const expected = sealOn(thing);
  if (!expected || expected === number) return good(`${thing?.words || code}: seal ${number}.`, { drafts: [draft], next: { sealing: "" } });
  return { ...wrong(`${thing.words}: seal ${expected} was expected, ${number} is on it. Both are kept; show it to the road lead.`), drafts: [draft], next: { sealing: "" } };
}

function breakSeal(day, doing, thing, code) {
  if (thing?.kind !== "case") return { ...day.stranger(code), drafts: [seen(code)] };
  return good(`${thing.words}${thing.seal ? `, seal ${thing.seal}` : ""}. Why is it opened?`, { drafts: [seen(code)], next: { sealing: thing.code, words: thing.words }, ask: "break" });
}

/** Who, when, why, the old number and, if it was closed again, the new one: one act, sealed last. */
export function sealBroken(code, words, { why, was, now }) {
  const drafts = [{ verb: "seal broken", code, note: why, ...(was ? { seal: was } : {}), grade: "scan" }];
  if (now) drafts.push({ verb: "sealed", code, seal: now, grade: "scan" });
  return good(now ? `${words}: seal ${now} from now on. What is inside counts as "was in here" until looked at.` : `${words} is open.`, { drafts, next: { sealing: "" } });
}

function fit(day, doing, thing, code) {
  const frame = day.frameOf(thing?.code || code);
  if (frame) return good(`${frame.words}. ${frame.bays[0].bay} first.`, { drafts: [seen(code)], next: { frame: frame.place, bay: frame.bays[0].bay } });
  const bays = day.frames().find((one) => one.place === doing.frame)?.bays;
  if (!bays) return { ...wrong("Scan the frame first, then its drives bay by bay. This scan is kept as seen."), drafts: [seen(code)] };
  const bay = bays.find((one) => one.bay === doing.bay) || bays[0];
  const step = put(day, thing, code, { verb: "fitted", place: bay.place, place_words: bay.words, bay: bay.bay, sets: bay.sets });
  return step.word === "wrong" || step.word === "unknown" ? step : { ...step, next: { bay: bays[bays.indexOf(bay) + 1]?.bay || "" } };
}

/** Out of the frame and into a box: pulled, then packed. Another set's box is wrong, and says whose the drive is. */
function pull(day, doing, thing, code) {
  if (thing?.kind === "case") {
    return good(`Into ${thing.words}. Scan each drive as it goes in.`, { drafts: [seen(code)], next: { place: thing.place, words: thing.words, box: thing.code } });
  }
  const place = doing.place || thing?.home_place;
  if (!place) return { ...told(day, thing, code, { verb: "pulled" }), drafts: [{ verb: "pulled", code, grade: "scan" }] };
  const words = doing.place ? doing.words : thing.home;
  const bay = thing?.home_place === place ? thing.bay : "";
  const step = put(day, thing, code, { verb: "packed", place, place_words: words, bay });
  const drafts = [{ verb: "pulled", code, grade: "scan" }, ...step.drafts];
  if (step.word === "wrong" && thing?.kind === "drive" && thing.set) {
    return { ...step, drafts, sentence: `This is ${thing.set}'s ${thing.bay || "drive"}. It goes in ${thing.home}; this box is ${words}.` };
  }
  return { ...(twoOfOneBay(day, step, thing, place, bay) || step), drafts };
}

/** Alike things of sister systems: only the serial tells them apart. */
function twins(day, doing, thing, code) {
  const draft = seen(code);
  if (!thing) return { ...day.stranger(code), drafts: [draft] };
  if (!thing.twin) return { ...good(`${thing.words}: it has no twin. Seen.`), drafts: [draft] };
  const serial = thing.serial ? `, serial ${thing.serial}` : "";
  if (doing.system && thing.system !== doing.system) {
    return { ...wrong(`This is ${thing.system}'s ${thing.words}${serial}. ${doing.system}'s is another one. Swap back, or tell the road lead.`), drafts: [draft] };
  }
  return { ...good(`${thing.system}'s own ${thing.words}${serial}.`), drafts: [draft] };
}

function lastLook(day, doing, thing, code) {
  const step = told(day, thing, code, { verb: "seen" });
  return { ...step, drafts: [seen(code)], sentence: thing ? `${thing.words}: take it. It belongs in ${thing.home || "the store"}.` : step.sentence };
}

/** A line of the last look, by eye: "have" it, "gone" from here, or it "stays", agreed. */
export function looked(thing, outcome, { place = "", note = "" } = {}) {
  const drafts = {
    have: { verb: "seen", code: thing.code, grade: "tick" },
    gone: { verb: "missed", code: thing.code, grade: "tick", note },
    stays: { verb: "left", code: thing.code, grade: "tick", note, ...(place ? { place } : {}) },
  };
  const words = { have: `${thing.words}: seen.`, gone: `${thing.words} looked for, not here.`, stays: `${thing.words} stays here, agreed.` };
  return good(words[outcome], { drafts: [drafts[outcome]] });
}

function checkIn(day, doing, thing, code) {
  return put(day, thing, code, { verb: "received", place: doing.place, place_words: doing.words });
}

function found(day, doing, thing, code) {
  const whose = thing ? `${thing.words}. Ours: it belongs in ${thing.home || thing.system || "the store"}.` : `${code} is on no list of ours.`;
  const draft = { verb: "found", code, grade: "scan", ...(doing.place ? { place: doing.place } : {}) };
  return { drafts: [draft], word: thing ? "good" : "unknown", sentence: `${whose} Found here: kept.` };
}

function broken(day, doing, thing, code) {
  return { drafts: [], word: thing ? "good" : "unknown", sentence: `${thing ? thing.words : code}: what is wrong?`, next: { out: code, words: thing?.words || code }, ask: "broken" };
}

/** @param {{what: string, works: string, photo?: string}} said */
export function isBroken(code, words, said) {
  const draft = { verb: "faulted", code, note: `${said.what}; works: ${said.works}`, grade: "scan", ...(said.photo ? { photo: said.photo } : {}) };
  return good(`${words} is reported broken. Tie a tag on it and go on.`, { drafts: [draft], next: { out: "" } });
}

/** Scan out, scan in. The bay stays; the old drive keeps what it holds, and is suspect unless somebody says it is fine. */
function swap(day, doing, thing, code) {
  if (!doing.out) {
    const at = bayOf(day, thing);
    const next = { out: code, frame: at?.place || "", bay: at?.bay || "", words: thing?.words || code };
    if (!at) return good(`${thing?.words || code} out. Which bay was it in?`, { drafts: [seen(code)], next, ask: "swap-bay" });
    return good(`${thing.words} out of ${at.words}, ${at.bay}. Scan the drive that goes in.`, { drafts: [seen(code)], next });
  }
  if (code === doing.out || thing?.code === doing.out) return wrong("That is the drive that came out. Scan the one that goes in.");
  const bay = day.list.bays.find((one) => one.place === doing.frame && one.bay === doing.bay);
  if (!bay) return { ...wrong("Say which bay first. This scan is kept as seen."), drafts: [seen(code)], ask: "swap-bay" };
  return swapped(day, doing, thing, code, bay);
}

function swapped(day, doing, thing, code, bay) {
  const old = day.find(doing.out);
  const box = old?.home_place || bay.box;
  const drafts = [{ verb: "pulled", code: doing.out, note: `swapped for ${code}`, grade: "scan" }];
  if (box) drafts.push({ verb: "packed", code: doing.out, place: box, bay: "pocket", grade: "said" });
  if (!doing.fine) drafts.push({ verb: "faulted", code: doing.out, note: "swapped out: suspect until tested", grade: "scan" });
  drafts.push({ verb: "fitted", code, place: bay.place, bay: bay.bay, grade: "scan" });
  const home = old?.home || bay.box_words;
  return good(`${thing?.words || code} is ${bay.bay} now. The old one still holds what it recorded${home ? `: put it in the pocket of ${home}` : ""}.`, { drafts, next: { out: "", frame: "", bay: "" } });
}

function bayOf(day, thing) {
  if (!thing) return null;
  const now = day.where(thing);
  return day.list.bays.find((bay) => bay.place === now.place && bay.bay === now.bay) || null;
}

const asLeg = (leg) => ({ key: String(leg.pk), words: leg.vehicle || leg.carrier || `by ${leg.mode}`, more: `${leg.show}: ${leg.from} to ${leg.to}`, next: { leg: leg.pk, ride: leg } });
/** Should have left by now: it may stand at the door though nobody scanned it off, as couriers do not. */
const overdue = (leg) => Boolean(leg.departs_at) && Date.parse(leg.departs_at) <= Date.now();
/**
 * The legs at a stage where this is done, first those with something left to do; all of them when none is at it, for
 * the list may be behind.
 */
const legs = (task, ...phases) => (day) => {
  const now = day.list.legs.filter((leg) => phases.includes(leg.phase) || (phases.includes("on the road") && overdue(leg)));
  const open = (leg) => left(day, { task, leg: leg.pk }).length > 0;
  const found = now.length ? now : day.list.legs;
  return [...found.filter(open), ...found.filter((leg) => !open(leg))].map(asLeg);
};
const places = (rows) => rows.map((row) => ({ key: row.place, words: row.words, next: { place: row.place, words: row.words } }));
const frames = (day) => day.frames().map((frame) => ({ key: frame.place, words: frame.words, next: { frame: frame.place, bay: frame.bays[0]?.bay || "" } }));
const systems = (day) => [...new Set(day.list.items.filter((item) => item.twin).map((item) => item.system))].map((system) => ({ key: system, words: system, next: { system } }));
const none = () => [];

/** In the order people need them in a night. `verbs`: what a pass must cover; `choose`: asked once, before the first scan. */
export const TASKS = {
  load: { title: "Load a vehicle", verbs: ["loaded"], choose: legs("load", "loading"), asks: "Which vehicle?", take: load },
  unload: { title: "Unload", verbs: ["unloaded"], choose: legs("unload", "on the road", "arrived"), asks: "Off which vehicle?", take: unload },
  count: { title: "Count on arrival", verbs: ["unloaded"], choose: legs("count", "on the road", "arrived"), asks: "What has arrived?", take: count },
  pack: { title: "Pack a case", verbs: ["packed"], choose: none, take: pack },
  seal: { title: "Seal a case", verbs: ["sealed"], choose: none, take: seal },
  break: { title: "Break a seal", verbs: ["seal broken"], choose: none, take: breakSeal },
  fit: { title: "Fit drives, bay by bay", verbs: ["fitted"], choose: frames, asks: "Which frame?", take: fit },
  pull: { title: "Pull drives into their box", verbs: ["pulled", "packed"], choose: none, take: pull },
  swap: { title: "Swap a drive", verbs: ["pulled", "fitted"], choose: none, take: swap },
  twins: { title: "Check a system's twins", verbs: ["seen"], choose: systems, asks: "Whose?", take: twins },
  look: { title: "Last look", verbs: ["seen"], choose: (day) => places(day.list.rooms), asks: "Which room?", take: lastLook },
  checkin: { title: "Check in", verbs: ["received"], choose: (day) => places(day.list.stores), asks: "At which store?", take: checkIn },
  found: { title: "Found here", verbs: ["found"], choose: (day) => places(day.list.rooms), asks: "Where are you?", take: found },
  broken: { title: "It is broken", verbs: ["faulted"], choose: none, take: broken },
};

/** What one scan means. @param {import("./day.js").Day} day @param {Doing} doing @param {string} text @returns {Step} */
export function take(day, doing, text) {
  const thing = day.find(text);
  const code = thing && !isNumber(text, thing) ? codeIn(text) : thing?.code || codeIn(text);
  const step = understood(day, doing, thing, code.slice(0, 40));
  const old = (thing?.aliases || []).includes(codeIn(text)) ? ` ${codeIn(text)} is now ${thing.words}: relabel it when there is time.` : "";
  return { ...step, sentence: `${step.sentence}${old}` };
}

/** A scan never fails: what a task cannot make sense of is kept as seen. */
function understood(day, doing, thing, code) {
  try {
    return TASKS[doing.task].take(day, doing, thing, code);
  } catch (why) {
    console.warn(`${doing.task}: ${why.message}`);
    return { drafts: [seen(code)], word: "unknown", sentence: `${thing?.words || code} is kept as seen. Choose the task again, then scan it once more.` };
  }
}

/** A number that people say (HER-07) is sent as the code of the thing. */
function isNumber(text, thing) {
  const plain = codeIn(text);
  return plain !== thing.code && !(thing.codes || []).includes(plain);
}

/** What is still to do: the things, so that the page can show how many and which. */
export function left(day, doing) {
  const leg = legOf(day, doing);
  if (doing.task === "load" && leg) return day.cases.filter((one) => travels(one, leg) && day.where(one).place !== leg.load_place);
  if (comesOff(doing) && leg) return day.cases.filter((one) => travels(one, leg) && isOwed(day, leg, one));
  if (doing.task === "pack" && doing.place) return homeIn(day, doing.place).filter((one) => day.where(one).place !== doing.place);
  if (doing.task === "pull") return day.things.filter((one) => one.kind === "drive" && fittedNow(day, one) && (!doing.place || one.home_place === doing.place));
  if (doing.task === "fit") return baysLeft(day, doing);
  if (doing.task === "look") return day.things.filter((one) => one.runaway && !sealedIn(day, one) && !(doing.looked || []).includes(one.code));
  if (doing.task === "twins") return day.things.filter((one) => one.twin && one.system === doing.system && !(doing.looked || []).includes(one.code));
  return null;
}

export const comesOff = ({ task }) => task === "unload" || task === "count";

/** Neither counted off, here or by the list, nor left behind. */
function isOwed(day, leg, one) {
  return day.where(one).place !== leg.to_place && !(one.off || []).includes(leg.pk) && !stayed(day, leg, one);
}

/** Did the leg leave without it by the list, and has this phone not scanned it since? An older list does not say. */
export function stayed(day, leg, one) {
  return (one.behind || []).includes(leg.pk) && !day.done.has(one.code);
}

/** In a case that the list knows as sealed: it was checked before, and cannot lie in the room. */
function sealedIn(day, thing) {
  const { place } = day.where(thing);
  return Boolean(place) && day.cases.some((one) => one.place === place && one.seal);
}

function homeIn(day, place) {
  return day.things.filter((one) => one.home_place === place);
}

function fittedNow(day, thing) {
  const place = day.where(thing).place;
  return Boolean(place) && day.list.bays.some((bay) => bay.place === place);
}

function baysLeft(day, doing) {
  const bays = day.frames().find((frame) => frame.place === doing.frame)?.bays || [];
  return bays.filter((bay) => !occupant(day, bay)).map((bay) => ({ code: bay.bay, words: bay.bay }));
}

/** Which drive is in a bay now. */
export function occupant(day, bay) {
  return day.things.find((one) => one.kind === "drive" && day.where(one).place === bay.place && day.where(one).bay === bay.bay) || null;
}
