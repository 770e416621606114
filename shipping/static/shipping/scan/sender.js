// Sends what is stored, in batches, whenever it can; never in the way of the next scan.

import { better, measured } from "./clock.js";

const BATCH = 100;
const PATIENCE = 20_000; // ms for one answer on a bad network
const SLOWEST = 60_000; // ms between two tries at most

/** How long to wait after so many failures in a row, in ms; shaken, so that phones do not knock together. */
export function pause(failures, chance = Math.random()) {
  return Math.min(SLOWEST, 1000 * 2 ** Math.min(failures, 6)) * (0.5 + chance / 2);
}

export class Sender {
  /** @param {{scans: string, photos: string}} addresses */
  constructor(outbox, addresses, { fetch = (...asked) => globalThis.fetch(...asked), now = () => Date.now() } = {}) {
    Object.assign(this, { outbox, addresses, fetch, now });
    this.failures = 0;
    this.notBefore = 0;
    this.state = "idle"; // idle, sending, waiting, ended
    this.why = "";
    this.batch = BATCH;
    this.timer = 0;
    this.listeners = [];
  }

  onChange(listener) {
    this.listeners.push(listener);
  }

  tell(state, why = "") {
    this.state = state;
    this.why = why;
    this.listeners.forEach((listener) => listener());
  }

  /** Begin, and begin again whenever there may be a network. */
  start() {
    addEventListener("online", () => this.soon(0));
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.soon(0));
    setInterval(() => this.flush(), 5000);
    this.flush();
  }

  /** A person asks, or the network is back: no more waiting. */
  soon(failures = 0) {
    this.failures = failures;
    this.notBefore = 0;
    return this.flush();
  }

  /** One window of this phone sends at a time; others find nothing to do. */
  async flush() {
    if (this.running || this.now() < this.notBefore) return;
    this.running = true;
    try {
      if (navigator.locks) await navigator.locks.request("stowbook-send", { ifAvailable: true }, (lock) => lock && this._all());
      else await this._all();
    } catch (why) {
      this._failed(`It could not be sent (${why?.name || "error"}). It is safe here and will be tried again.`);
    } finally {
      this.running = false;
    }
  }

  async _all() {
    const phone = await this.outbox.recall("phone");
    const token = phone?.token || this.outbox.phone?.token;
    if (!token) return;
    await this._photos(token);
    for (;;) {
      const rows = await this.outbox.unsent(this.batch);
      if (!rows.length) break;
      this.tell("sending");
      if (!(await this._send(rows, phone || this.outbox.phone))) return;
    }
    this.failures = 0;
    this.tell("idle");
  }

  async _send(rows, phone) {
    const { unsent } = await this.outbox.counts();
    const sent = this.now();
    const offset = await this.outbox.recall("offset");
    const answer = await this._post(this.addresses.scans, phone.token, "application/json", JSON.stringify({
      sent_at: new Date(sent).toISOString(),
      ...(offset ? { offset_ms: offset.offset } : {}),
      unsent: Math.max(0, unsent - rows.length),
      scans: rows.map((row) => bodyFor(row, phone.device)),
    }));
    if (!answer) return false;
    return answer.status === 200 ? this._taken(answer, rows, sent) : this._notTaken(answer, rows);
  }

  /** What the answer names is done with; it must name something, else the same batch would go round for ever. */
  async _taken(answer, rows, sent) {
    const told = await answer.json();
    this.batch = BATCH;
    this.failures = 0;
    await this.contact(sent, Date.parse(told.received_at));
    const named = told.scans.filter((one) => rows[one.position]).map((one) => ({ ...one, id: rows[one.position].id }));
    await this.outbox.answered(named);
    return named.length > 0 || this._failed("The server answered, but not about these scans. They are safe here.");
  }

  /** Any answer that carries the server's clock measures ours. */
  async contact(sent, server) {
    if (!Number.isFinite(server)) return;
    const known = await this.outbox.recall("offset");
    const found = better(known, measured(sent, this.now(), server));
    this.outbox.offset = found;
    if (found !== known) await this.outbox.keep("offset", found).catch(() => {});
  }

  async _notTaken(answer, rows) {
    const said = await answer.json().catch(() => ({}));
    if (answer.status === 401 || answer.status === 403) {
      this.notBefore = this.now() + SLOWEST;
      this.tell("ended", said.error || "The book does not know this phone any more. Join again; nothing is lost.");
      return false;
    }
    if (answer.status === 400 || answer.status === 413) {
      if (rows.length > 1) this.batch = Math.max(1, Math.floor(rows.length / 2));
      else await this.outbox.refused(rows[0].id, said.error || `The server refused it (${answer.status}).`);
      return true;
    }
    const after = Number(answer.headers.get("Retry-After")) * 1000;
    return this._failed(`The server has trouble (${answer.status}). It is safe here and will be tried again.`, after);
  }

  _failed(why, after = 0) {
    this.failures += 1;
    const wait = Math.max(after || 0, pause(this.failures));
    this.notBefore = this.now() + wait;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), wait + 50);
    this.tell("waiting", why);
    return false;
  }

  async _post(address, token, type, body) {
    const end = new AbortController();
    const clock = setTimeout(() => end.abort(), PATIENCE);
    try {
      return await this.fetch(address, {
        method: "POST", body, headers: { "Content-Type": type, "X-Device-Token": token }, redirect: "error",
        credentials: "omit", cache: "no-store", signal: end.signal,
      });
    } catch {
      this._failed("No network. It is safe here and sends itself later.");
      return null;
    } finally {
      clearTimeout(clock);
    }
  }

  /** Photos go first, so that their scans find them; a photo that fails holds no scan up. */
  async _photos(token) {
    for (const { hash, blob } of await this.outbox.photos()) {
      const answer = await this._post(this.addresses.photos, token, blob.type || "image/jpeg", blob);
      if (!answer) return;
      if (answer.ok || [400, 413, 415, 422].includes(answer.status)) await this.outbox.forgetPhoto(hash);
      else return;
    }
  }
}

/** A scan as it goes over the wire: one made by another phone, or under an earlier name of this one, names its maker. */
function bodyFor(row, device) {
  return row.maker && row.maker !== device ? { ...row.body, device: row.maker } : row.body;
}
