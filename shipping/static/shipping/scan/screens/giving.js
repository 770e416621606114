// Phone to phone without a network: a run of QR codes on one screen, read by the other's camera.

import { button, h } from "../dom.js";
import { Collector, pack } from "../packets.js";
import { draw } from "../qr.js";
import { sound } from "../tones.js";

const EACH = 500; // ms a code is shown

export function give(app) {
  const place = h("section", {}, h("h1", {}, "Hand my scans over"));
  fill(app, place);
  return place;
}

async function fill(app, place) {
  const rows = await app.outbox.unsent();
  if (!rows.length) {
    place.append(h("p", { class: "sentence" }, "Every scan on this phone is sent. There is nothing to hand over."), button("Back", () => app.go("choose")));
    return;
  }
  const frames = await pack(rows);
  const canvas = h("canvas", { role: "img", "aria-label": "A run of codes for the other phone" });
  const words = h("p", { class: "left" });
  place.append(h("p", {}, `On the other phone: Take over another phone's scans. Hold its camera to this. ${rows.length} scans in ${frames.length} codes; they stay here too, and nothing is counted twice.`), canvas, words,
    h("div", { class: "acts" }, button("Slower", () => (pace = Math.min(4000, pace * 2))), button("Faster", () => (pace = Math.max(250, pace / 2))), button("Done", () => app.go("choose"))));
  let pace = EACH;
  let at = 0;
  const side = Math.min(innerWidth - 32, innerHeight * 0.55, 520) * Math.min(2, devicePixelRatio || 1);
  (function show() {
    if (!canvas.isConnected) return;
    draw(canvas, frames[at], side);
    canvas.dataset.frame = frames[at];
    words.textContent = `Code ${at + 1} of ${frames.length}`;
    at = (at + 1) % frames.length;
    setTimeout(show, pace);
  })();
}

export function receive(app) {
  app.collector = new Collector();
  const video = h("video", { playsinline: true });
  video.muted = true;
  queueMicrotask(() => app.startCamera());
  return h("section", {}, h("h1", {}, "Take over another phone's scans"), h("p", {}, "On the other phone: Hand my scans to another phone. Hold this camera to its screen until all codes are read."),
    h("div", { class: "view" }, video, h("p", { id: "camera-says" }, "The camera is starting…")), h("p", { id: "taken", class: "left", role: "status" }, "No code read yet."),
    h("div", { class: "acts" }, button("Back", () => app.go("choose"))));
}

/** One code of another phone's run, whatever is on the screen: it can be nothing else. */
export async function frame(app, text) {
  const { collector } = app;
  const found = collector.add(text);
  if (found === "bad" || (found === "again" && collector.missing.length)) return;
  const place = document.getElementById("taken");
  if (place) place.textContent = `${collector.have} of ${collector.count} codes read.`;
  if (collector.missing.length || collector.taken === collector.run) return;
  collector.taken = collector.run;
  try {
    await takeOver(app, await collector.rows(), place);
  } catch (why) {
    sound("wrong");
    if (place) place.textContent = `That did not come over whole (${why.message}). Show it again.`;
    app.collector = new Collector();
  }
}

async function takeOver(app, rows, place) {
  let fresh = 0;
  const makers = new Map();
  for (const { maker, body } of rows) makers.set(maker, [...(makers.get(maker) || []), body]);
  for (const [maker, bodies] of makers) if (maker !== app.phone?.device) fresh += await app.outbox.take(maker, bodies);
  const sentence = fresh ? `${fresh} scans taken over. They go with yours.` : "Nothing new: these scans are here already.";
  sound(fresh ? "good" : "already done");
  if (place) place.textContent = sentence;
  app.sender.flush();
}
