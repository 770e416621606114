// Scanning: camera on top, the last result huge, what is left, the one next action at the bottom.

import { readStill, toTrust } from "../camera.js";
import { codeIn } from "../codes.js";
import { decoder } from "../decoder.js";
import { button, field, form, h } from "../dom.js";
import { hashOf } from "../sha256.js";
import { MEANING, shape } from "../shapes.js";
import { comesOff, left, legOf, looked, occupant, sealOn, sealSeen, stayed, travels } from "../tasks.js";
import { refreshDay } from "./starting.js";

export function scan(app) {
  app.wantsCamera = app.wantsCamera ?? true;
  const page = [view(app), h("div", { id: "answer", role: "status", "aria-live": "assertive" }, result(app)), h("div", { id: "left" }, whatIsLeft(app)), inputs(app), next(app)];
  queueMicrotask(() => app.wantsCamera && app.startCamera());
  app.typing = (text) => {
    const place = document.getElementById("typing");
    if (place) place.textContent = text;
  };
  return page;
}

function view(app) {
  const video = h("video", { playsinline: true, "aria-label": "What the camera sees" });
  video.muted = true;
  return h("div", { class: "view" }, video, h("p", { id: "camera-says" }, "The camera is starting…"), toTrust(app), h("p", { id: "typing", class: "mono" }));
}

export function cameraSays(app, words) {
  const place = document.getElementById("camera-says");
  if (!place) return;
  place.textContent = words;
  place.hidden = !words;
  document.querySelector(".view")?.classList.toggle("without", Boolean(words));
  const torch = document.getElementById("torch");
  if (torch) torch.hidden = !app.camera?.hasTorch;
}

export function result(app) {
  const { said } = app;
  if (!said) return h("p", { class: "prompt" }, app.doing ? prompt(app) : "");
  const word = said.lost ? "wrong" : said.word;
  return h("div", { class: `answer ${MEANING[word]}`, "data-word": word, "data-scans": app.scans },
    h("p", { class: "word" }, shape(word), h("span", {}, (said.lost ? "not saved" : word).toUpperCase())),
    h("p", { class: "why" }, said.lost ? `${said.sentence} It is NOT saved on this phone: keep this page open and hand over.` : said.sentence),
    said.keep && button("Keep it all the same", said.keep));
}

function prompt(app) {
  const { doing } = app;
  if (doing.task === "pack" && !doing.place) return "Scan the case.";
  if (doing.task === "fit" && !doing.frame) return "Scan the frame.";
  if (doing.task === "fit") return `Bay ${doing.bay}: scan the drive that goes in.`;
  if (doing.task === "pull") return "Scan the box, then each drive. Or scan drives straight away.";
  if (doing.task === "swap") return "Scan the drive that comes out.";
  if (doing.task === "seal" || doing.task === "break") return "Scan the case.";
  if (doing.task === "broken") return "Scan the thing, or press No label.";
  return "Scan the first one.";
}

/** Draw anew what a scan changes; the camera's picture stays. */
export function redraw(app) {
  document.getElementById("answer")?.replaceChildren(result(app));
  document.getElementById("left")?.replaceChildren(...[whatIsLeft(app)].flat().filter(Boolean));
  document.getElementById("next")?.replaceWith(next(app));
}

function whatIsLeft(app) {
  const rows = left(app.day, app.doing || {});
  if (app.doing?.task === "fit") return bays(app);
  if (!rows) return null;
  const words = { load: "to go", unload: "still to come", count: "still to count", pack: "still to go in", pull: "still in", look: "to look for", twins: "to compare" };
  const task = app.doing.task;
  if (!rows.length && !listed(app).length) return h("p", { class: "prompt" }, "The list names nothing here. Scan what there is: it is kept.");
  return [h("p", { class: "left" }, h("strong", { class: "big" }, String(rows.length)), ` ${words[task]}`),
    rows.length ? which(app, rows) : h("p", { class: "sentence" }, "That is all of them."),
    comesOff(app.doing) && leftBehind(app), task === "count" && paper(app, rows)];
}

/** The names of what is left, drawn when somebody looks; whoever has it open keeps it open from scan to scan. */
function which(app, rows) {
  const list = h("ul", { class: "which" });
  const draw = () => list.replaceChildren(...(app.shown ? rows.slice(0, 200).map((row) => line(app, row)) : []));
  const opened = (event) => {
    if (app.shown === event.target.open) return;
    app.shown = event.target.open;
    draw();
  };
  draw();
  return h("details", { open: Boolean(app.shown), ontoggle: opened }, h("summary", {}, "Which"), list);
}

/** All that the list names for what is being done, put already or not. */
function listed(app) {
  const { task, leg, place, system } = app.doing;
  if (["load", "unload", "count"].includes(task)) return app.day.cases.filter((one) => travels(one, { pk: leg }));
  if (task === "twins") return app.day.things.filter((one) => one.twin && one.system === system);
  if (task === "look") return app.day.things.filter((one) => one.runaway);
  return app.day.things.filter((one) => !place || one.home_place === place);
}

function line(app, row) {
  const more = [row.spots?.[app.doing.leg], row.tape, row.name, row.size, row.kg && `${row.kg} kg`, row.lift, row.room, row.home && `belongs in ${row.home}`, row.serial && `serial ${row.serial}`, row.others?.length && `two stories: on ${row.others.map((one) => one.words).join(", or on ")}`].filter(Boolean);
  const eye = app.doing.task === "look" || app.doing.task === "twins";
  return h("li", {}, h("strong", {}, row.words), more.length ? h("span", {}, ` ${more.join(" · ")}`) : null,
    eye && app.doing.task === "look" && h("div", { class: "acts" }, button("Have it", () => tick(app, row, "have")), button("Not here", () => tick(app, row, "gone")), button("Stays, agreed", () => app.go("ask", { form: "stays", row }))));
}

export async function tick(app, row, outcome, more = {}) {
  await app.set({ looked: [...(app.doing.looked || []), row.code] });
  await app.act(looked(row, outcome, { place: app.doing.place, ...more }), "tick");
}

/** What the leg left without, apart from what is counted; of a list that knows no departure, that it cannot tell. */
function leftBehind(app) {
  const leg = legOf(app.day, app.doing);
  if (leg?.phase === "loading") return older(app);
  const rows = app.day.cases.filter((one) => leg && travels(one, leg) && stayed(app.day, leg, one));
  return rows.length ? h("p", { class: "behind" }, `It left without ${rows.map((one) => one.words).join(", ")}: not counted here. If one is here after all, scan it.`) : null;
}

function older(app) {
  const words = "By the list on this phone it has not left yet, so what stayed behind is counted too.";
  return h("div", { class: "behind" }, h("p", {}, words), button("Fetch the list again", (event) => fetchAnew(app, event.target)));
}

async function fetchAnew(app, pressed) {
  const came = await refreshDay(app);
  if (legOf(app.day, app.doing)?.phase !== "loading") return redraw(app);
  pressed.textContent = came ? "Fetched: it still does not say so" : "No network now";
}

/** What to write on the driver's paper now: it says what was counted and nothing more. */
function paper(app, owed) {
  const leg = legOf(app.day, app.doing);
  const all = app.day.cases.filter((one) => leg && travels(one, leg) && !stayed(app.day, leg, one));
  if (!owed.length || !all.length) return null;
  return h("details", {}, h("summary", {}, "The driver wants a signature now"), h("p", {}, `Write on the paper: “${all.length - owed.length} of ${all.length} cases received; not received: ${owed.map((one) => one.words).join(", ")}; contents not checked”.`));
}

/** The frame's bays in their real order, the one that comes next marked; a tap jumps. */
function bays(app) {
  const frame = app.day.frames().find((one) => one.place === app.doing.frame);
  if (!frame) return null;
  return h("ol", { class: "bays" }, frame.bays.map((bay) => {
    const drive = occupant(app.day, bay);
    const right = drive && bay.sets.includes(drive.set) && drive.bay === bay.bay;
    const words = drive ? (right ? "good" : `${drive.set || "no set"} ${drive.bay || ""}`) : "empty";
    return h("li", { class: drive ? (right ? "settled" : "stop") : "quiet", "aria-current": bay.bay === app.doing.bay ? "step" : null },
      button([h("strong", {}, bay.bay), h("small", {}, words)], async () => {
        await app.set({ bay: bay.bay });
        app.said = null;
        redraw(app);
      }));
  }));
}

function inputs(app) {
  const box = field("code", "Type a code or a number", { maxlength: 400, placeholder: "K7MFXW3 or HER-07", inputmode: "text" });
  return h("div", { class: "inputs" },
    h("form", { class: "type", onsubmit: (event) => typed(app, event) }, box, h("button", {}, "Take it")),
    h("div", { class: "acts" },
      button("Camera", () => camera(app)), h("button", { type: "button", id: "torch", hidden: true, onclick: () => torch(app) }, "Torch"),
      h("label", { class: "button photo" }, "Photo of the label", h("input", { type: "file", accept: "image/*", capture: "environment", class: "unseen", onchange: (event) => photo(app, event.target.files[0]) })),
      ["found", "broken", "load", "unload", "count", "checkin", "look"].includes(app.doing?.task) && button("No label", () => app.go("ask", { form: "unread" }))));
}

function typed(app, event) {
  event.preventDefault();
  const box = event.target.elements.code;
  const text = box.value;
  box.value = "";
  if (codeIn(text)) app.take(text, "typed");
}

function camera(app) {
  app.wantsCamera = !app.camera;
  if (app.camera) {
    app.stopCamera();
    cameraSays(app, "The camera is off.");
  } else app.startCamera();
}

async function torch(app) {
  app.torchOn = !app.torchOn;
  await app.camera?.torch(app.torchOn).catch(() => {});
}

/** A still picture reads what the moving one does not; if it does not either, it is kept with the scan. */
async function photo(app, file) {
  if (!file) return;
  app.decoder ||= await decoder(app.addresses).catch(() => null);
  const found = app.decoder ? await readStill(app.decoder, file).catch(() => []) : [];
  if (found.length) {
    for (const text of found) await app.take(text, "photo");
    return;
  }
  app.go("ask", { form: "unread", photo: await keepPhoto(app, file) });
}

/** Keep a photo for sending, made small enough for a bad network; returns the hash its scan names. */
export async function keepPhoto(app, file) {
  const small = await smaller(file).catch(() => file);
  const hash = await hashOf(small);
  await app.outbox.keepPhoto(hash, small).catch(() => app.warn("photo", "The photo could not be kept: the phone's store is full. The scan is kept without it."));
  return hash;
}

async function smaller(file, longest = 1600) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((ok) => canvas.toBlob((blob) => ok(blob || file), "image/jpeg", 0.82));
}

/** The one next action, at the thumb. */
function next(app) {
  const { doing } = app;
  const acts = [];
  if (doing?.task === "fit" && doing.bay) acts.push(button(`${doing.bay} stays empty`, () => skipBay(app)));
  if (doing?.task === "swap" && doing.out) acts.push(button(doing.fine ? "The old one is fine" : "The old one is suspect", () => fine(app), { "aria-pressed": Boolean(doing.fine) }), button("Not swapping", () => forget(app)));
  if (["seal", "break"].includes(doing?.task) && doing.sealing) acts.push(button(doing.task === "seal" ? "Type the seal" : "Say why", () => app.go("ask", { form: doing.task })));
  if (doing?.task === "count" && doing.sealing) acts.push(...sealOf(app, app.day.find(doing.sealing)));
  return h("nav", { id: "next", "aria-label": "Next" }, button("Undo", () => undoLast(app)), acts, button("Other task", () => app.go("choose")));
}

/** The seal of the case just counted, without standing in the way of the next one. */
function sealOf(app, thing) {
  const right = async () => app.act(sealSeen(app.day, thing.code, sealOn(thing)), "tick");
  return thing ? [button(`Seal ${sealOn(thing)}: it is`, right), button("Other seal", () => app.go("ask", { form: "seal-seen" }))] : [];
}

async function undoLast(app) {
  const last = (await app.outbox.lastActs()).find((row) => !row.undone);
  if (last) await app.undo(last);
  else app.say({ word: "already done", sentence: "Nothing left to undo." });
}

async function skipBay(app) {
  const bays = app.day.frames().find((one) => one.place === app.doing.frame)?.bays || [];
  await app.set({ bay: bays[bays.findIndex((one) => one.bay === app.doing.bay) + 1]?.bay || "" });
  app.said = null;
  redraw(app);
}

async function fine(app) {
  await app.set({ fine: !app.doing.fine });
  redraw(app);
}

async function forget(app) {
  await app.set({ out: "", frame: "", bay: "" });
  app.said = null;
  redraw(app);
}
