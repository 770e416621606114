// Coming in: the code of the day sheet, a name, a sound test, a camera test, the list.

import { Camera, toTrust, whyNot } from "../camera.js";
import { passIn } from "../codes.js";
import { decoder } from "../decoder.js";
import { button, field, form, h } from "../dom.js";
import { shape } from "../shapes.js";
import { sound, wake } from "../tones.js";

const json = { Accept: "application/json" };

/** The word that forms need; so short an answer also measures the clock well. */
async function csrf(app) {
  const sent = Date.now();
  const answer = await fetch(app.addresses.phone, { headers: json, cache: "no-store" });
  const told = await answer.json();
  await app.sender.contact(sent, Date.parse(told.now));
  return told.csrf;
}

/** Does the book know this browser already, by a pass joined elsewhere or an account? Then nothing is asked. */
export async function known(app) {
  if (!navigator.onLine) return;
  try {
    const answer = await fetch(app.addresses.phone, { method: "POST", headers: { ...json, "X-CSRFToken": await csrf(app) }, cache: "no-store" });
    if (answer.ok) await welcome(app, await answer.json(), "");
  } catch {
    // no network: the form stays
  }
}

export function join(app, { code = "", again = false, why = "" } = {}) {
  const sentence = app.phone && !again ? `You are on ${app.phone.reference || "an account"} as ${app.phone.name}. Join another show? What is not sent stays and is sent.`
    : "Point the camera at the code on the day sheet, or type it. Then your name. No account, no password.";
  return h("section", {}, h("h1", {}, "Join a show"), h("p", { class: "sentence" }, sentence), why && h("p", { class: "error", role: "alert" }, why),
    form([
      field("code", "Code of the day sheet", { value: code, required: true, maxlength: 80 }),
      field("name", "The name people call you by", { value: app.phone?.name || "", required: true, maxlength: 120, autocapitalize: "words", autocomplete: "name" }),
    ], "Join", (given) => enter(app, given)),
    app.phone && button("Back", () => app.go("choose")));
}

/** A code scanned or typed by a handheld while the form is open. */
export function typed(app, text) {
  const code = passIn(text) || text.trim();
  const box = document.getElementById("field-code");
  if (!box) return;
  box.value = code;
  document.getElementById("field-name").focus();
}

async function enter(app, { code, name }) {
  wake();
  const wanted = passIn(code) || code.trim();
  const address = `${app.addresses.join}${encodeURIComponent(wanted.toUpperCase().replaceAll("/", " "))}/`;
  try {
    const answer = await fetch(address, {
      method: "POST", headers: { ...json, "X-CSRFToken": await csrf(app), "Content-Type": "application/x-www-form-urlencoded" },
      body: new URLSearchParams({ name }), redirect: "error", cache: "no-store",
    });
    if (answer.ok && answer.headers.get("Content-Type")?.includes("json")) return welcome(app, await answer.json(), wanted);
    const why = { 404: "No pass has this code. Look at the day sheet and type it again.", 410: "This pass is over. Ask the road lead for today's code.",
      422: "Write the name people call you by.", 429: "Too many wrong codes from here. Wait ten minutes, then try again." };
    app.go("join", { code: wanted, again: true, why: why[answer.status] || `That did not work (${answer.status}). Try again.` });
  } catch {
    app.go("join", { code: wanted, again: true, why: "No network. Joining needs one, once; scanning does not. What you scanned is safe." });
  }
}

/** A new phone in the book's eyes counts its steps from 1; scans of the one before are sent under its name. */
async function welcome(app, phone, code) {
  app.phone = { ...phone, code };
  app.outbox.phone = app.phone;
  await app.outbox.newPhone(app.phone);
  app.warn("ended", "");
  await app.set(null);
  app.go("check");
  await refreshDay(app, true);
  app.sender.soon();
}

/** Fetch the list and measure the clock by it. What this phone did since stays on top. */
export async function refreshDay(app, say = false) {
  if (!app.phone || !navigator.onLine) return false;
  const sent = Date.now();
  try {
    const known = app.day.known && app.day.list.digest ? { "If-None-Match": `"${app.day.list.digest}"` } : {};
    const answer = await fetch(app.addresses.day, { headers: { ...json, ...known, "X-Device-Token": app.phone.token }, cache: "no-store", redirect: "error" });
    await app.sender.contact(sent, Date.parse(answer.headers.get("X-Made-At")));
    if (answer.status === 304) return true; // the list on this phone is this very one
    if (!answer.ok) throw new Error(String(answer.status));
    const list = await answer.json();
    await app.outbox.keep("day", list);
    await app.loadDay(list);
    app.warn("day", "");
  } catch {
    if (!app.day.known) app.warn("day", "The list is not here yet. You can scan all the same: every scan is kept.", ["Try again", () => refreshDay(app, true)]);
    return false;
  } finally {
    if (say && app.view === "check") app.go("check");
    if (say && app.view === "choose") app.go("choose");
  }
  return true;
}

/** Sound, camera, list: each with its own sentence. Nothing here is asked twice. */
export function check(app) {
  const list = app.day.known ? `The list is on this phone: ${app.day.list.cases.length} cases, ${app.day.list.drives.length} drives.` : "The list is on its way…";
  const reason = whyNot();
  return h("section", {}, h("h1", {}, `Welcome, ${app.phone.name}`),
    h("p", { class: "sentence" }, "Turn the sound up and press each one. These are the four answers."),
    h("div", { class: "tones" }, ["good", "already done", "wrong", "unknown"].map((word) =>
      h("button", { type: "button", class: `tone ${word.replace(" ", "-")}`, onclick: () => sound(word) }, shape(word), h("span", {}, word)))),
    h("h2", {}, "Camera"), reason ? [h("p", { class: "reason" }, reason), toTrust(app)] : h("div", { class: "test" }, h("p", {}, "Not tried yet."), button("Test the camera", () => testCamera(app))),
    h("h2", {}, "List"), h("p", {}, list), !app.day.known && button("Fetch the list", () => refreshDay(app, true)),
    h("div", { class: "acts" }, h("button", { type: "button", class: "main", onclick: () => app.go("choose") }, "Start")));
}

async function testCamera(app) {
  const place = document.querySelector(".test");
  const video = h("video", { playsinline: true, muted: true });
  video.muted = true;
  place.replaceChildren(video, h("p", {}, "Point it at any label."));
  const words = place.lastChild;
  app.stopCamera();
  try {
    app.decoder ||= await decoder(app.addresses);
    app.camera = new Camera(video, app.decoder, (text) => {
      sound("good");
      words.textContent = `It reads ${text}. Good to go.`;
    });
    await app.camera.start();
  } catch (why) {
    app.stopCamera();
    words.textContent = whyNot(why);
  }
}
