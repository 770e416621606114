// The scan page: wires the phone's store, the list, the camera and the tones; screens draw, tasks decide.

import { Camera, whyNot } from "./camera.js";
import { isMisread, passIn, codeIn } from "./codes.js";
import { Day } from "./day.js";
import { decoder } from "./decoder.js";
import { h } from "./dom.js";
import { bar, notices } from "./bar.js";
import { Outbox } from "./outbox.js";
import { Collector, isFrame } from "./packets.js";
import * as choosing from "./screens/choosing.js";
import * as giving from "./screens/giving.js";
import * as keeping from "./screens/keeping.js";
import * as scanning from "./screens/scanning.js";
import * as starting from "./screens/starting.js";
import { Sender } from "./sender.js";
import { TASKS, sealed, take } from "./tasks.js";
import { lengthOf, sound, wake } from "./tones.js";
import { listen } from "./wedge.js";

const AGAIN = 5000; // ms until it is tried once more to keep the page
const UNTRUSTED = "This page could not be kept on the phone: it will not open without a network. Ask the road lead to trust the book's certificate.";
const BOUNCE = 3000; // ms: the same once more, with nothing between, is one scan
const GAP = 60; // ms of silence between two tones, so that each is heard
const SCREENS = { ...choosing, ...giving, ...keeping, ...scanning, ...starting };

export class App {
  constructor(root = document.body) {
    this.root = root;
    this.addresses = { ...root.dataset };
    this.outbox = new Outbox();
    this.sender = new Sender(this.outbox, this.addresses);
    this.collector = new Collector();
    this.doing = null;
    this.said = null;
    this.warnings = {};
    this.last = null; // what was kept last, to tell the same once more
    this.scans = 0;
  }

  async start() {
    await this.outbox.start((what) => this.warn("store", what === "newer" ? "A newer page is open in another window. Close this one." : "Another window holds an older page. Close it."));
    this.outbox.onChange(() => this.redrawBar());
    this.sender.onChange(() => this.redrawBar());
    this.phone = await this.outbox.recall("phone");
    this.outbox.phone = this.phone;
    this.outbox.offset = await this.outbox.recall("offset");
    this.doing = (await this.outbox.recall("doing")) || null;
    await this.loadDay(await this.outbox.recall("day"));
    if ((await this.outbox.recall("light")) === true) document.documentElement.dataset.theme = "light";
    this.listenAll();
    this.sender.start();
    this.keepItself();
    await this.first();
    performance.mark("usable");
    setTimeout(wake, 300); // made now, so that the first tone need not wait for it
  }

  async first() {
    const asked = passIn(location.hash.slice(1)) || decodeURIComponent(location.hash.slice(1));
    if (this.phone && (!asked || asked === this.phone.code)) return this.go(this.doing && this.day.known ? "scan" : "choose");
    this.go("join", { code: asked });
    if (!this.phone) await starting.known(this);
  }

  async loadDay(list) {
    const rows = (await this.outbox.all()).sort((a, b) => a.seq - b.seq);
    this.day = new Day(list, rows);
  }

  listenAll() {
    listen(document, (text) => this.take(text, "handheld"), (text) => this.typing?.(text));
    addEventListener("beforeunload", (event) => {
      if (this.unsentNow) event.preventDefault();
    });
    document.addEventListener("pointerdown", wake, { capture: true });
    document.addEventListener("visibilitychange", () => (document.hidden ? this.stopCamera() : this.view === "scan" && this.wantsCamera && this.startCamera()));
    setInterval(() => this.outbox.tidy().catch(() => {}), 60_000);
    setInterval(() => document.hidden || starting.refreshDay(this), 60_000);
  }

  /** The worker keeps the page; a new version waits until a person takes it, so that nothing changes mid-scan. */
  async keepItself() {
    if (!navigator.serviceWorker) return;
    const had = Boolean(navigator.serviceWorker.controller);
    navigator.serviceWorker.addEventListener("controllerchange", () => had && location.reload());
    await this.register(had);
    navigator.storage?.persist?.().catch(() => {});
  }

  /** On a bad network a file may be lost on the way; then nothing is kept, and it is tried until everything is. */
  async register(had) {
    const kept = await navigator.serviceWorker.register(this.addresses.worker).catch((why) => why);
    if (kept instanceof Error) return kept.name === "SecurityError" ? this.warn("offline", UNTRUSTED) : this.keepLater(had);
    const offer = () => kept.waiting && had && this.warn("update", "A newer scan page is ready.", ["Use it", () => kept.waiting?.postMessage("take over")]);
    kept.addEventListener("updatefound", () => kept.installing?.addEventListener("statechange", offer));
    kept.installing?.addEventListener("statechange", ({ target }) => {
      if (target.state === "redundant" && !kept.active) this.keepLater(had);
      if (target.state === "activated") this.warn("offline", null);
    });
    offer();
  }

  keepLater(had) {
    if (!had) this.warn("offline", "This page is not kept on the phone yet: it will not open without a network. It tries again by itself.");
    setTimeout(() => this.register(had), AGAIN);
  }

  warn(name, words, act = null) {
    if (words) this.warnings[name] = { words, act };
    else delete this.warnings[name];
    notices(this);
  }

  async redrawBar() {
    await bar(this);
  }

  go(view, given = {}) {
    this.stopCamera(); // its picture goes with the screen it was on
    this.view = view;
    this.given = given;
    this.typing = null;
    const main = document.getElementById("main");
    main.replaceChildren(...[SCREENS[view](this, given)].flat());
    document.getElementById("title").textContent = this.title();
    scrollTo(0, 0);
    this.redrawBar();
  }

  title() {
    if (!this.phone) return "Stowbook";
    const task = this.doing && this.view !== "choose" ? TASKS[this.doing.task].title : this.phone.reference || "Scan";
    return `${task} · ${this.phone.name}`;
  }

  async set(changes) {
    if (changes === null) this.shown = false; // the names of what is left, for another task
    this.doing = changes === null ? null : { ...this.doing, ...changes };
    await this.outbox.keep("doing", this.doing).catch(() => {});
  }

  /** One text from any input. Resolves when it has been said, so that the next one waits its turn. */
  async take(text, how, at = performance.now()) {
    if (isFrame(text)) return giving.frame(this, text);
    if (this.view === "join") return starting.typed(this, text);
    if (["check", "give", "receive"].includes(this.view)) return sound("good"); // a try, or a label beside the codes
    if (!this.doing || !["scan", "ask"].includes(this.view)) return this.look(text);
    if (how === "typed" && isMisread(codeIn(text)) && !this.day.find(text)) return this.misread(text);
    await this.act(this.stepOf(text), how, at, codeIn(text));
  }

  stepOf(text) {
    const isSeal = this.doing.sealing && this.doing.task === "seal" && !this.day.find(text);
    return isSeal ? sealed(this.doing.sealing, this.doing.words, codeIn(text)) : take(this.day, this.doing, text);
  }

  /** A scan while nothing is being done: say whose it is, and store nothing but that it was seen. */
  async look(text) {
    const thing = this.day.find(text);
    if (!this.phone) return;
    await this.act({
      drafts: [{ verb: "seen", code: thing?.code || codeIn(text).slice(0, 40), grade: "scan" }],
      ...(thing ? { word: "good", sentence: describe(this.day, thing) } : this.day.stranger(codeIn(text))),
    }, "look", performance.now(), codeIn(text));
  }

  misread(text) {
    const sentence = `${codeIn(text)} does not read right: its last character does not fit. Type it again.`;
    this.say({ word: "unknown", sentence, keep: () => this.act(this.stepOf(text), "kept") });
  }

  /**
   * Store, then sound, then show, then send: in this order, and the next scan waits for none of the sending. Codes that
   * the camera sees at once are stored while the tone before still sounds, and sound when it is over.
   */
  async act(step, how = "", at = performance.now(), text = "") {
    const key = JSON.stringify(step.drafts.map(({ verb, code, place, bay, seal }) => [verb, code, place, bay, seal]));
    if (this._isAgain(key, text)) return this._again(this.last);
    const last = { key, text, at: performance.now() };
    this.last = step.drafts.length ? last : null;
    last.over = this._keep(step, how, at).then((said) => Object.assign(last, { said, doing: this.doing }));
    await last.over;
  }

  async _keep(step, how, at) {
    const told = { word: step.word, sentence: step.sentence };
    const rows = step.drafts.length ? await this.outbox.add(step.drafts, told) : [];
    const lost = rows.some((row) => row.state === "spare");
    if (how === "camera") await this.quiet();
    this.heard(lost ? "wrong" : step.word);
    performance.measure("to the tone", { start: at, end: performance.now() });
    rows.forEach((row) => this.day.put(row.body, row.at, this.phone?.name || ""));
    if (step.next) this.set(step.next); // known at once; what comes next need not wait for the disk
    this.scans += rows.length ? 1 : 0;
    const said = { ...told, act: rows[0]?.act, lost };
    this.say(said);
    if (step.ask) this.go("ask", { form: step.ask });
    this.sender.flush();
    return said;
  }

  /** The same act, or the same code while nothing else was scanned or chosen: in a frame the next bay is due by then. */
  _isAgain(key, text) {
    const { last } = this;
    if (!last || performance.now() - last.at >= BOUNCE) return false;
    return last.key === key || (Boolean(text) && last.text === text && last.doing === this.doing);
  }

  /** Kept once and told again, never better than the first time. A form that the first opened stays as it is. */
  async _again(last) {
    const { said } = await last.over;
    await this.quiet();
    const word = said.word === "good" ? "already done" : said.word;
    this.heard(said.lost ? "wrong" : word);
    if (this.view !== "ask") this.say({ ...said, word, sentence: said.lost ? said.sentence : `${said.sentence} Scanned again, kept once.` });
  }

  heard(word) {
    sound(word);
    this.quietAt = performance.now() + lengthOf(word) + GAP;
  }

  /** Until the last tone is over. */
  async quiet() {
    const left = (this.quietAt || 0) - performance.now();
    if (left > 0) await new Promise((ok) => setTimeout(ok, left));
  }

  say(said) {
    this.said = said;
    if (this.view === "scan" || this.view === "choose") scanning.redraw(this);
    else if (this.view === "ask" || this.view === "list") this.go("scan");
  }

  async undo(row) {
    await this.outbox.undo(row.act, row.sentence || row.body.code || row.body.verb);
    this.last = null; // scanned anew, it counts
    await this.loadDay(this.day.list);
    sound("already done");
    this.say({ word: "already done", sentence: `Undone: ${row.sentence || row.body.code}` });
    this.sender.flush();
  }

  async startCamera() {
    const video = document.querySelector("video");
    if (!video || this.camera) return;
    const reason = whyNot();
    if (reason) return scanning.cameraSays(this, reason);
    try {
      this.decoder ||= await decoder(this.addresses);
      if (!video.isConnected || this.camera) return; // the screen was drawn anew meanwhile, and started its own
      this.camera = new Camera(video, this.decoder, (text, at) => this.take(text, "camera", at));
      await this.camera.start();
      scanning.cameraSays(this, "");
    } catch (why) {
      this.stopCamera();
      scanning.cameraSays(this, whyNot(why));
    }
  }

  stopCamera() {
    this.camera?.stop();
    this.camera = null;
  }
}

/** Whose it is and where it goes, in one sentence. */
export function describe(day, thing) {
  const at = day.where(thing);
  const goes = thing.leg_words ? `goes ${thing.leg_words}` : thing.home ? `belongs in ${thing.home}` : thing.set ? `is ${thing.set}'s ${thing.bay}` : "is ours";
  return `${thing.words} ${goes}.${at.at ? ` Put where it is at ${at.at} by ${at.by}.` : ""}`;
}

if (document.body.classList.contains("scan")) {
  const app = new App();
  globalThis.stowbook = app;
  app.start().catch((why) => document.getElementById("main").replaceChildren(h("p", { class: "error" }, `This page did not start (${why.message}). Reload it; the scans on this phone are safe.`)));
}
