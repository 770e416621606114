// Follows the dock: asks once a second whether anything changed, and changes only the parts that did.

const EVERY = 1000; // ms while in sight and answered
const SLOWEST = 8000; // ms between tries while the book cannot be reached
const HANDS_OFF = 1500; // ms after a touch in which nothing may move under the finger

/** What a part says, without the word that its forms need, which is another one each time. */
export function said(part) {
  return part.outerHTML.replace(/(name="csrfmiddlewaretoken" value=)"[^"]*"/g, "$1");
}

/**
 * Put each fresh part in the place of the one with the same key, where it reads differently; parts that are new come,
 * parts that are gone go. One that holds the focus waits. Returns whether all was done.
 */
export function merge(live, fresh, known) {
  let done = true;
  let before = null;
  const keys = new Set();
  for (const part of [...fresh.children]) {
    const key = part.dataset.key;
    keys.add(key);
    const old = live.querySelector(`:scope > [data-key="${key}"]`);
    const words = said(part);
    if (old && known.get(key) === words) before = old;
    else if (old?.contains(document.activeElement)) [done, before] = [false, old];
    else {
      if (old) keepOpen(old, part);
      if (old) old.replaceWith(part);
      else if (before) before.after(part);
      else live.prepend(part);
      known.set(key, words);
      before = part;
    }
  }
  for (const old of [...live.children]) {
    if (keys.has(old.dataset.key)) continue;
    known.delete(old.dataset.key);
    old.remove();
  }
  return done;
}

/** What somebody folded open stays open. */
function keepOpen(old, part) {
  const open = [...old.querySelectorAll("details")].map((one) => one.open);
  part.querySelectorAll("details").forEach((one, at) => { one.open = Boolean(open[at]); });
}

export class Follower {
  constructor(live, { fetch = globalThis.fetch.bind(globalThis) } = {}) {
    Object.assign(this, { live, fetch, mark: "", failures: 0, touched: -Infinity });
    this.known = new Map([...live.children].map((part) => [part.dataset.key, said(part)]));
    this.contact = document.getElementById("contact");
    this.told = document.getElementById("told");
  }

  start() {
    for (const name of ["pointerdown", "keydown"]) addEventListener(name, () => { this.touched = performance.now(); }, { capture: true });
    document.addEventListener("visibilitychange", () => document.hidden || this.again(0));
    this.say("Follows by itself: what crews scan is here within a second or two.");
    this.again(EVERY);
  }

  again(wait) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.look(), wait);
  }

  async look() {
    if (document.hidden || this.looking) return;
    if (performance.now() - this.touched < HANDS_OFF) return this.again(300);
    this.looking = true;
    const wait = await this.ask().catch(() => this.failed());
    this.looking = false;
    if (wait !== null) this.again(wait);
  }

  /** One question. Returns how long to wait for the next, or null to ask no more. */
  async ask() {
    const end = new AbortController();
    const clock = setTimeout(() => end.abort(), SLOWEST);
    const headers = this.mark ? { "If-None-Match": this.mark } : {};
    const answer = await this.fetch(this.live.dataset.now, { headers, cache: "no-store", redirect: "manual", signal: end.signal }).finally(() => clearTimeout(clock));
    if (answer.status === 200) await this.take(answer);
    else if ([401, 403, 404].includes(answer.status) || answer.type === "opaqueredirect") return this.over();
    else if (answer.status !== 304) return this.failed();
    if (this.failures) this.say("In touch again. Follows by itself.");
    this.failures = 0;
    return EVERY;
  }

  async take(answer) {
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").body;
    const before = this.newest();
    const done = merge(this.live, fresh, this.known);
    this.mark = done ? answer.headers.get("ETag") || "" : "";
    if (this.newest() && this.newest() !== before) this.told.textContent = this.live.querySelector("#newest").textContent;
  }

  newest() {
    return this.live.querySelector("[data-entry]")?.dataset.entry;
  }

  failed() {
    this.failures += 1;
    if (this.failures === 2) this.say(`No contact with the book since ${new Date().toTimeString().slice(0, 5)}: what stands here may be old. It tries again by itself.`);
    return Math.min(SLOWEST, EVERY * 2 ** this.failures);
  }

  over() {
    this.say("This page is not open to this phone any more. Look again to see why; what was scanned is safe.");
    return null;
  }

  say(words) {
    this.contact.textContent = words;
  }
}

const live = document.getElementById("live");
if (live?.dataset.now) {
  globalThis.dock = new Follower(live);
  globalThis.dock.start();
}
