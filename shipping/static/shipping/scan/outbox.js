// The scans on this phone: each stored before anything is said of it, kept until the server has answered by its id.

import { stamp } from "./clock.js";
import { done, open, transact } from "./store.js";
import { uuid7 } from "./uuid7.js";

export const LAST = 20; // how far back undoing reaches
const KEPT = 2000; // answered scans that stay for looking at
const NOTHING = { seq: 0, stamp: 0, id: "" };

export class Outbox {
  constructor(now = () => Date.now()) {
    this.now = now;
    this.db = null;
    this.spare = []; // what the store refused: alive only while the page is
    this.clock = { ...NOTHING };
    this.refusal = ""; // why the store refused, if it did
    this.listeners = [];
    this.channel = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("stowbook-scan");
    if (this.channel) this.channel.onmessage = () => this.tell(false);
  }

  async start(outdated) {
    try {
      this.db = await open(outdated);
      this.clock = (await this.recall("clock")) || { ...NOTHING }; // a first scan that is refused goes on from here
    } catch (why) {
      this.refusal = why?.name === "VersionError" ? "newer" : "refused";
    }
    return this;
  }

  onChange(listener) {
    this.listeners.push(listener);
  }

  /** Soon, and once for all that changed meanwhile: counting never stands between a scan and its tone. */
  tell(others = true) {
    this.others ||= others;
    this.telling ||= setTimeout(() => {
      if (this.others) this.channel?.postMessage("changed");
      this.telling = this.others = 0;
      this.listeners.forEach((listener) => listener());
    });
  }

  /** A small thing kept beside the scans: the phone's own name and token, the day's list, what it is doing. */
  async recall(key) {
    if (!this.db) return undefined;
    return transact(this.db, ["drawer"], "readonly", ({ drawer }) => done(drawer.get(key)));
  }

  async keep(key, value) {
    if (!this.db) return;
    await transact(this.db, ["drawer"], "readwrite", ({ drawer }) => done(drawer.put(value, key)));
  }

  /** Joined anew: what was scanned before keeps its maker; steps begin at 1 again, ids and stamps go on. */
  async newPhone(phone) {
    const before = this.clock;
    this.clock = { seq: 0, stamp: before.stamp, id: before.id };
    if (!this.db) return;
    await transact(this.db, ["drawer"], "readwrite", async ({ drawer }) => {
      const [known, clock] = await Promise.all([done(drawer.get("phone")), done(drawer.get("clock"))]);
      const kept = later(clock || NOTHING, before);
      this.clock = known?.device === phone.device ? kept : { ...kept, seq: 0 };
      await Promise.all([done(drawer.put(phone, "phone")), done(drawer.put(this.clock, "clock"))]);
    });
  }

  /**
   * Store the scans of one act, in order, and return their rows once the disk has them.
   * Each draft is a body without id, act, times and step; `told` is what was said of it.
   * A store that refuses is said by the rows: `state` is then "spare", and they live in memory only.
   */
  async add(drafts, told) {
    let rows;
    try {
      rows = await this._store(drafts, told);
      this.refusal = "";
    } catch (why) {
      await this.makeRoom();
      rows = await this._store(drafts, told).catch(() => this._spare(drafts, told, why));
    }
    this.tell();
    return rows;
  }

  async _store(drafts, told) {
    if (!this.db) throw new Error("no store");
    const rows = await transact(this.db, ["scans", "drawer"], "readwrite", async ({ scans, drawer }) => {
      const [phone, offset, clock] = await Promise.all(["phone", "offset", "clock"].map((key) => done(drawer.get(key))));
      const made = this._rows(drafts, told, phone, offset, later(clock || NOTHING, this.clock));
      await Promise.all([...made.rows.map((row) => done(scans.add(row))), done(drawer.put(made.clock, "clock"))]);
      return made;
    });
    this.clock = rows.clock;
    return rows.rows;
  }

  _spare(drafts, told, why) {
    this.refusal = why?.name === "QuotaExceededError" ? "full" : this.refusal || "refused";
    const made = this._rows(drafts, told, this.phone, this.offset, this.clock);
    made.rows.forEach((row) => (row.state = "spare"));
    this.clock = made.clock;
    this.spare.push(...made.rows);
    return made.rows;
  }

  _rows(drafts, told, phone, offset, before) {
    const rows = [];
    let { seq, stamp: last, id } = before;
    let act = "";
    for (const draft of drafts) {
      const own = this.now();
      last = stamp(own, offset?.offset, last);
      id = uuid7(last, id);
      seq += 1;
      act ||= id;
      const body = {
        id, act, ...draft, device_seq: seq, taken_at: new Date(own).toISOString(), happened_at: new Date(last).toISOString(),
        ...(offset ? { offset_ms: offset.offset } : {}),
      };
      rows.push({ id, act, body, maker: phone?.device || "", seq, mine: 1, state: "unsent", at: last, undone: false, ...told });
    }
    return { rows, clock: { seq, stamp: last, id } };
  }

  /** Take an act of one's own back, by an entry that says so. */
  async undo(act, words) {
    const rows = await this.add([{ verb: "corrected", corrects: act, note: `undone: ${words}`.slice(0, 200) }], {
      word: "good", sentence: `Undone: ${words}`,
    });
    await this._change((row) => (row.act === act ? { ...row, undone: true } : row));
    this.tell();
    return rows;
  }

  async _change(change) {
    this.spare = this.spare.map(change);
    if (!this.db) return;
    await transact(this.db, ["scans"], "readwrite", async ({ scans }) => {
      for (const row of await done(scans.getAll())) {
        const changed = change(row);
        if (changed !== row) await done(scans.put(changed));
      }
    }).catch(() => {});
  }

  /** The last acts of this phone that can be taken back, newest first: one row each. */
  async lastActs() {
    const rows = (await this._mine()).filter((row) => row.body.verb !== "corrected");
    const acts = new Map();
    for (const row of rows.sort((a, b) => b.seq - a.seq)) {
      if (!acts.has(row.act) && acts.size >= LAST) break;
      acts.set(row.act, row); // the first of an act's rows speaks for it
    }
    return [...acts.values()];
  }

  async _mine() {
    return (await this.all()).filter((row) => row.mine);
  }

  async all() {
    const kept = this.db ? await transact(this.db, ["scans"], "readonly", ({ scans }) => done(scans.getAll())) : [];
    return [...kept, ...this.spare];
  }

  /** Not yet answered, each phone's in the order of its own steps. */
  async unsent(most = Infinity) {
    const kept = this.db
      ? await transact(this.db, ["scans"], "readonly", ({ scans }) =>
          done(scans.index("state").getAll(IDBKeyRange.bound(["unsent"], ["unsent", []]), Number.isFinite(most) ? most : undefined)))
      : [];
    return [...kept, ...this.spare.filter((row) => row.state === "spare")].slice(0, most);
  }

  async counts() {
    const count = (scans, state) => done(scans.index("state").count(IDBKeyRange.bound([state], [state, []])));
    const [saved, unsent, refused] = this.db
      ? await transact(this.db, ["scans"], "readonly", ({ scans }) => Promise.all([done(scans.count()), count(scans, "unsent"), count(scans, "refused")]))
      : [0, 0, 0];
    const spare = this.spare.filter((row) => row.state === "spare").length;
    return { saved, unsent: unsent + spare, refused, spare };
  }

  /** What the server answered, scan by scan; only what it names is no longer sent. */
  async answered(receipts) {
    const by = new Map(receipts.filter((one) => one.id).map((one) => [one.id, one]));
    await this._settle(by, (row, one) => ({
      ...row, state: "sent", receipt: one.receipt, told: one.sentence, says: one.says,
    }));
    if (this.spare.length) await this.tidy();
  }

  /** The server could not read the upload with this one scan in it: kept here, shown, sent no more by itself. */
  async refused(id, sentence) {
    await this._settle(new Map([[id, { sentence }]]), (row, one) => ({ ...row, state: "refused", told: one.sentence }));
  }

  async _settle(by, change) {
    this.spare = this.spare.map((row) => (by.has(row.id) ? change(row, by.get(row.id)) : row));
    if (this.db && by.size) {
      await transact(this.db, ["scans"], "readwrite", async ({ scans }) => {
        await Promise.all([...by].map(async ([id, one]) => {
          const row = await done(scans.get(id));
          if (row) await done(scans.put(change(row, one)));
        }));
      }).catch((why) => this._letGo(by, why));
    }
    this.tell();
  }

  /** No room even to note the answers: what the book has now need not be here any more. */
  async _letGo(by, why) {
    if (![...by.values()].every((one) => one.receipt)) throw why;
    await transact(this.db, ["scans"], "readwrite", ({ scans }) => Promise.all([...by.keys()].map((id) => done(scans.delete(id)))));
  }

  /** Scans of another phone, taken over: sent under its name, never counted twice. Returns how many were new. */
  async take(maker, bodies) {
    const fresh = await transact(this.db, ["scans"], "readwrite", async ({ scans }) => {
      let added = 0;
      for (const body of bodies) {
        if (await done(scans.getKey(body.id))) continue;
        const row = {
          id: body.id, act: body.act || body.id, body: { ...body, device: maker }, maker, seq: body.device_seq, mine: 0,
          state: "unsent", at: Date.parse(body.happened_at), undone: false, word: "", sentence: `${body.verb} ${body.code || ""}`,
        };
        await done(scans.add(row));
        added += 1;
      }
      return added;
    });
    this.tell();
    return fresh;
  }

  async keepPhoto(hash, blob) {
    await transact(this.db, ["photos"], "readwrite", ({ photos }) => done(photos.put(blob, hash)));
  }

  async photos() {
    if (!this.db) return [];
    return transact(this.db, ["photos"], "readonly", async ({ photos }) => {
      const [keys, values] = await Promise.all([done(photos.getAllKeys()), done(photos.getAll())]);
      return keys.map((hash, at) => ({ hash, blob: values[at] }));
    });
  }

  async forgetPhoto(hash) {
    await transact(this.db, ["photos"], "readwrite", ({ photos }) => done(photos.delete(hash)));
  }

  /** Let go of the oldest answered scans; what is not answered is never let go. */
  async makeRoom(keep = 200) {
    if (!this.db) return;
    await transact(this.db, ["scans"], "readwrite", async ({ scans }) => {
      const sent = await done(scans.index("state").getAll(IDBKeyRange.bound(["sent"], ["sent", []])));
      sent.sort((a, b) => a.at - b.at);
      await Promise.all(sent.slice(0, Math.max(0, sent.length - keep)).map((row) => done(scans.delete(row.id))));
    }).catch(() => {});
  }

  /** Once in a while: keep the store small, and try to store what it refused before. */
  async tidy() {
    await this.makeRoom(KEPT);
    const refused = [...this.spare]; // what was sent from memory meanwhile has used its step all the same
    if (!this.db || !refused.length) return;
    const kept = await transact(this.db, ["scans", "drawer"], "readwrite", async ({ scans, drawer }) => {
      for (const row of refused) await done(scans.put(row.state === "spare" ? { ...row, state: "unsent" } : row));
      const clock = later((await done(drawer.get("clock"))) || NOTHING, this.clock);
      await done(drawer.put(clock, "clock"));
      return true;
    }).catch(() => false);
    if (!kept) return;
    this.spare = this.spare.filter((row) => !refused.some((one) => one.id === row.id));
    this.refusal = "";
    this.tell();
  }
}

/** Another window of this phone may have scanned since: the later of two clocks counts. */
function later(one, other) {
  return { seq: Math.max(one.seq, other.seq), stamp: Math.max(one.stamp, other.stamp), id: one.id > other.id ? one.id : other.id };
}
