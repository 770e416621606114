// What are you doing? Asked once; then it stays until another task is chosen.

import { button, h } from "../dom.js";
import { TASKS } from "../tasks.js";
import { result } from "./scanning.js";
import { refreshDay } from "./starting.js";

export function choose(app, { task = "" } = {}) {
  return task ? options(app, task) : tasks(app);
}

function tasks(app) {
  const offered = Object.entries(TASKS).filter(([, task]) => app.day.may(...task.verbs));
  return h("section", {}, h("h1", {}, "What are you doing?"), h("div", { id: "answer", role: "status" }, result(app)),
    h("ul", { class: "tasks" }, offered.map(([key, task]) => h("li", {}, button(task.title, () => pick(app, key))))),
    h("h2", {}, "This phone"),
    h("ul", { class: "tasks" },
      h("li", {}, button("What is on this phone, and undo", () => app.go("list"))),
      h("li", {}, button("Hand my scans to another phone", () => app.go("give"))),
      h("li", {}, button("Take over another phone's scans", () => app.go("receive"))),
      h("li", {}, button("Fetch the list again", () => refreshDay(app, true))),
      h("li", {}, button("Sound and camera", () => app.go("check"))),
      h("li", {}, button("Light or dark", () => theme(app))),
      h("li", {}, button("Join another show", () => app.go("join", { again: false })))));
}

async function theme(app) {
  const light = document.documentElement.dataset.theme !== "light";
  document.documentElement.dataset.theme = light ? "light" : "dark";
  await app.outbox.keep("light", light);
}

async function pick(app, key) {
  const found = TASKS[key].choose(app.day);
  app.said = null;
  await app.set(null);
  await app.set({ task: key });
  if (found.length > 1) return app.go("choose", { task: key });
  if (found.length === 1) await app.set(found[0].next);
  if (!found.length && ["load", "unload", "count"].includes(key)) return app.go("choose", { task: key });
  return app.go("scan");
}

function options(app, key) {
  const found = TASKS[key].choose(app.day);
  return h("section", {}, h("h1", {}, TASKS[key].asks),
    found.length ? h("ul", { class: "tasks" }, found.map((one) => h("li", {}, button([h("strong", {}, one.words), one.more && h("small", {}, one.more)], async () => {
      await app.set(one.next);
      app.go("scan");
    })))) : h("p", { class: "empty" }, "The list names none. Fetch the list when there is a network, or ask the road lead to plan one on the show's page."),
    button("Back", () => app.go("choose")));
}
