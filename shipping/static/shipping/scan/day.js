// The day's list on this phone: what each code is, where it should go, and where it was put last, by us included.

import { codeIn, isMisread } from "./codes.js";

const PLACING = new Set(["loaded", "unloaded", "placed", "packed", "fitted", "arrived", "received", "departed"]);
const EMPTY = { pass: { name: "", verbs: [] }, person: "", legs: [], cases: [], bays: [], drives: [], items: [], stores: [], rooms: [] };

/** Hours and minutes by hand: asking the browser for its formats takes a slow phone half a second the first time. */
const clock = (at) => [at.getHours(), at.getMinutes()].map((part) => String(part).padStart(2, "0")).join(":");

export class Day {
  /** @param {object|undefined} list as /api/day/ gives it @param {object[]} rows this phone's own scans, oldest first */
  constructor(list, rows = []) {
    this.list = { ...EMPTY, ...list };
    this.known = Boolean(list);
    this.byCode = new Map();
    this.done = new Map(); // code of the thing -> where this phone put it
    this._index("case", this.list.cases);
    this._index("drive", this.list.drives);
    this._index("item", this.list.items);
    const made = Date.parse(this.list.made_at) || 0;
    rows.filter((row) => row.at > made && !row.undone && row.mine).forEach((row) => this.put(row.body, row.at, this.list.person));
  }

  _index(kind, rows) {
    for (const row of rows) {
      const thing = { ...row, kind, words: row.number || row.words };
      for (const code of [row.code, ...(row.codes || []), row.number, ...(row.aliases || [])]) {
        if (code && !this.byCode.has(code.toUpperCase())) this.byCode.set(code.toUpperCase(), thing);
      }
    }
  }

  find(text) {
    return this.byCode.get(codeIn(text)) || null;
  }

  get cases() {
    return this.list.cases.map((row) => this.byCode.get(row.code.toUpperCase()));
  }

  get things() {
    return [...new Set(this.byCode.values())];
  }

  may(...verbs) {
    const allowed = this.list.pass?.verbs;
    return !allowed || verbs.every((verb) => allowed.includes(verb));
  }

  leg(pk) {
    return this.list.legs.find((leg) => leg.pk === pk) || null;
  }

  /** Remember where a scan of ours put a thing, so that the next scan of it is told. */
  put(body, at, by) {
    if (!body.place || !PLACING.has(body.verb)) return;
    const thing = this.find(body.code || "");
    if (!thing) return;
    const before = this.where(thing);
    this.done.set(thing.code, { place: body.place, bay: body.bay || (before.place === body.place ? before.bay : ""), at: clock(new Date(at)), by });
  }

  /** Where a thing was put last: by this phone since the list was made, else by the list. */
  where(thing) {
    return this.done.get(thing.code)
      || { place: thing.done_place || "", bay: thing.done_bay || "", at: thing.done_at || "", by: thing.done_by || "" };
  }

  /** The line of saying.js for a thing that is being handled so; `doing.leg` is the leg it is loaded for. */
  line(thing, { verb, place, leg }) {
    if (!thing) return null;
    const now = this.where(thing);
    const line = { words: thing.words, done_place: now.place, done_bay: now.bay, done_at: now.at, done_by: now.by };
    if (thing.kind === "drive") Object.assign(line, { drive_set: thing.set, bay: thing.bay });
    const listed = (thing.legs || []).includes(leg);
    if (verb === "loaded" && listed) Object.assign(line, { to: place, to_words: "" });
    else if (verb === "loaded" && thing.load_place) Object.assign(line, { to: thing.load_place, to_words: thing.leg_words });
    if (verb === "packed" && thing.home_place) Object.assign(line, { to: thing.home_place, to_words: `in ${thing.home}` });
    return line;
  }

  /** What to say of a code that is on no list. */
  stranger(code) {
    const sentence = isMisread(code)
      ? `${code} does not read right: its last character does not fit. Scan it again.`
      : `${code} is not in this book yet. It is kept: found here, or adopt it at the desk.`;
    return { word: "unknown", sentence: this.known ? sentence : `${code} is kept. This phone has no list yet, so it cannot say more.` };
  }

  frames() {
    const found = new Map();
    for (const bay of this.list.bays) {
      if (!found.has(bay.place)) found.set(bay.place, { code: bay.code, codes: bay.codes || [], words: bay.words, place: bay.place, bays: [] });
      found.get(bay.place).bays.push(bay);
    }
    return [...found.values()];
  }

  frameOf(code) {
    return this.frames().find((frame) => frame.code === code || frame.codes.includes(code)) || null;
  }
}
