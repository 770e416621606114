// What is always in sight: how many scans are on this phone, how many are not sent, and what stands in the way.

import { button, h } from "./dom.js";

const plural = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;

/** "23 saved on this phone, 14 not yet sent", in words that are true for what the store said. */
export function counted({ saved, unsent, refused, spare }) {
  if (spare) return `${spare} NOT saved on this phone, only held by this page. ${unsent} not yet sent`;
  const sent = unsent ? `${unsent} not yet sent` : saved ? "all sent" : "nothing to send";
  return `${saved} saved on this phone, ${sent}${refused ? `, ${refused} refused` : ""}`;
}

export async function bar(app) {
  const counts = await app.outbox.counts().catch(() => null);
  const place = document.getElementById("count");
  if (!counts) return;
  app.unsentNow = counts.unsent;
  place.textContent = counted(counts);
  place.dataset.unsent = counts.unsent;
  place.dataset.state = app.sender.state;
  place.onclick = () => app.go("list");
  refusals(app);
}

function refusals(app) {
  const { refusal } = app.outbox;
  const words = {
    full: "This phone's store is full. What you scan now is only in this page: keep it open, and hand the scans to another phone.",
    refused: "This browser lets the page keep nothing (a private window?). What you scan is only in this page: keep it open, and hand the scans to another phone.",
    newer: "A newer page has been on this phone. Reload; the scans are safe.",
  };
  app.warn("store-refused", words[refusal], refusal === "newer" ? ["Reload", () => location.reload()] : ["Hand over", () => app.go("give")]);
  app.warn("ended", app.sender.state === "ended" ? app.sender.why : "", ["Join again", () => app.go("join", { again: true })]);
}

export function notices(app) {
  const place = document.getElementById("notices");
  const words = Object.values(app.warnings);
  const text = words.map((one) => one.words).join("|");
  if (place.dataset.text === text) return;
  place.dataset.text = text;
  place.replaceChildren(...words.map(({ words: said, act }) => h("div", { class: "notice" }, h("p", {}, said), act && button(act[0], act[1]))));
}

export { plural };
