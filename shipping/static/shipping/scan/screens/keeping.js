// Small forms between two scans, and the list of what is on this phone.

import { button, choices, field, form, h } from "../dom.js";
import { MEANING, shape } from "../shapes.js";
import { TASKS, isBroken, sealBroken, sealOn, sealSeen, sealed } from "../tasks.js";
import { keepPhoto, tick } from "./scanning.js";

export function ask(app, given) {
  return h("section", {}, FORMS[given.form](app, given), button("Back to scanning", () => app.go("scan")));
}

const FORMS = {
  seal: (app) => [h("h1", {}, `Seal ${app.doing.words}`), form([field("seal", "Number on the seal", { required: true, maxlength: 40, inputmode: "text" })], "Sealed", ({ seal }) => then(app, sealed(app.doing.sealing, app.doing.words, seal.trim())))],
  "seal-seen": (app) => {
    const thing = app.day.find(app.doing.sealing);
    return [h("h1", {}, `Seal on ${thing?.words || app.doing.sealing}`), button(`It reads ${sealOn(thing)}`, () => then(app, sealSeen(app.day, app.doing.sealing, sealOn(thing))), { class: "main" }),
      form([field("seal", "It reads something else", { required: true, maxlength: 40 })], "That is the number", ({ seal }) => then(app, sealSeen(app.day, app.doing.sealing, seal.trim()))),
      button("No seal on it, or no time", async () => { await app.set({ sealing: "" }); app.go("scan"); })];
  },
  break: (app) => {
    const thing = app.day.find(app.doing.sealing);
    return [h("h1", {}, `Open ${app.doing.words}`), form([
      choices("why", "Why", [["customs", "Customs opened it"], ["needed", "Something in it is needed"], ["damaged", "It looks damaged"], ["unpacking", "Unpacking"]]),
      field("was", "Number on the old seal", { value: thing?.seal || "", maxlength: 40 }), field("now", "New seal, if closed again", { maxlength: 40 }),
    ], "Seal is broken", ({ why, was, now }) => then(app, sealBroken(app.doing.sealing, app.doing.words, { why, was: was.trim(), now: now.trim() })))];
  },
  broken: (app) => [h("h1", {}, `${app.doing.words} is broken`), form([
    choices("what", "What is wrong", [["dead", "Dead"], ["comes and goes", "Comes and goes"], ["damaged", "Damaged"], ["part missing", "Part missing"], ["wet", "Wet"], ["something else", "Something else"]]),
    choices("works", "Does it work", [["no", "No"], ["partly", "Partly"], ["yes", "Yes"]]),
    h("label", { class: "button photo" }, "Add a photo", h("input", { type: "file", name: "photo", accept: "image/*", capture: "environment", class: "unseen" })),
    field("words", "In your own words, if you have a hand free", { maxlength: 300, autocapitalize: "sentences" }),
  ], "Report it", (said) => report(app, said))],
  "swap-bay": (app) => [h("h1", {}, "Which bay was it in?"), app.day.frames().map((frame) => h("section", {}, h("h2", {}, frame.words), h("div", { class: "acts" },
    frame.bays.map((bay) => button(bay.bay, async () => { await app.set({ frame: bay.place, bay: bay.bay }); app.go("scan"); })))))],
  stays: (app, { row }) => [h("h1", {}, `${row.words} stays here`), form([field("note", "Where exactly, and who promised it back", { required: true, maxlength: 300, autocapitalize: "sentences" })], "Agreed", ({ note }) => {
    app.go("scan");
    return tick(app, row, "stays", { note });
  })],
  unread: (app, { photo }) => [h("h1", {}, "No label, or it will not read"), h("p", {}, photo ? "The photo is kept with this." : "A photo helps: press Photo of the label before this."),
    h("p", {}, "Known things: pick by number or serial. Else it gets a code of its own; write it on a piece of tape."),
    form([field("code", "Number or serial, as far as you can read it", { maxlength: 80 }), field("words", "What is it", { maxlength: 300, autocapitalize: "sentences" })], "Keep it", ({ code, words }) => unread(app, code, words, photo))],
};

async function then(app, step) {
  app.go("scan");
  await app.act(step, "form");
}

async function report(app, said) {
  const photo = said.photo?.size ? await keepPhoto(app, said.photo) : "";
  const what = [said.what, said.words?.trim()].filter(Boolean).join(": ");
  await then(app, isBroken(app.doing.out, app.doing.words, { what, works: said.works, ...(photo ? { photo } : {}) }));
}

/** By serial or number if that names one thing here, else under a code made for it: the fact is kept either way. */
async function unread(app, typed, words, photo) {
  const tail = typed.trim().toUpperCase();
  const alike = tail ? app.day.things.filter((one) => one.number?.toUpperCase() === tail || one.serial?.toUpperCase().endsWith(tail)) : [];
  const made = `NOLABEL-${(app.phone?.device || "0000").slice(0, 4).toUpperCase()}-${app.outbox.clock.seq + 1}`;
  const code = alike.length === 1 ? alike[0].code : made;
  const step = TASKS[app.doing.task].take(app.day, app.doing, alike.length === 1 ? alike[0] : null, code);
  const note = [tail && alike.length !== 1 ? `reads ${tail}` : "", words.trim()].filter(Boolean).join("; ");
  const drafts = step.drafts.map((draft) => ({ ...draft, ...(note ? { note } : {}), ...(photo ? { photo } : {}) }));
  const sentence = alike.length === 1 ? step.sentence : `Kept as ${code}. Write that on a piece of tape and stick it on.`;
  await then(app, { ...step, drafts, sentence });
}

/** What is on this phone: the last acts with their undo, what is not sent, what the book said since. */
export function list(app) {
  const place = h("section", {}, h("h1", {}, "On this phone"));
  fill(app, place);
  return place;
}

async function fill(app, place) {
  const [counts, acts, all] = await Promise.all([app.outbox.counts(), app.outbox.lastActs(), app.outbox.all()]);
  const odd = all.filter((row) => row.state === "refused" || ["held", "unreadable", "id reused"].includes(row.receipt));
  const { sender } = app;
  const sentence = counts.unsent ? `${counts.unsent} of ${counts.saved} not yet sent. ${sender.state === "sending" ? "Sending now." : sender.why || "Sends itself when it can."}` : "Everything is sent.";
  place.append(h("div", {}, h("p", { class: "sentence" }, sentence),
    h("div", { class: "acts" }, button("Send now", () => sender.soon().then(() => app.go("list"))), button("Hand over", () => app.go("give")), button("Back", () => app.go(app.doing ? "scan" : "choose"))),
    odd.length ? h("section", {}, h("h2", {}, "For the kit manager"), h("p", {}, "Kept in the book or here; a person has to look at these."), h("ul", { class: "acts-list" }, odd.map((row) => h("li", {}, `${row.sentence} — ${row.told || ""}`)))) : null,
    h("h2", {}, `Your last ${acts.length}`),
    acts.length ? h("ul", { class: "acts-list" }, acts.map((row) => act(app, row))) : h("p", { class: "empty" }, "Nothing yet. Choose a task and scan.")));
}

function act(app, row) {
  const clock = new Date(row.at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" });
  const sent = row.state === "sent" ? "sent" : row.state === "spare" ? "NOT saved" : "not yet sent";
  const later = row.told && row.told !== row.sentence ? ` The book says: ${row.told}` : "";
  return h("li", { class: MEANING[row.word] || "" }, row.word ? shape(row.word) : null, h("p", {}, h("strong", {}, row.sentence), ` ${clock}, ${sent}.${later}`),
    row.undone ? h("p", { class: "quiet" }, "Undone.") : button("Undo", async () => { await app.undo(row); app.go("list"); }, { "aria-label": `Undo ${row.sentence}` }));
}
