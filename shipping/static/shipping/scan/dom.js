// Elements without markup in text: what people typed never becomes HTML.

/** h("button", {class: "main", onclick}, "Go on"): attributes by name, listeners by on…, children in any nesting. */
export function h(tag, given = {}, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") element.value = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...inside.flat(Infinity).filter((one) => one !== null && one !== undefined && one !== false && one !== ""));
  return element;
}

export function button(words, onclick, given = {}) {
  return h("button", { type: "button", onclick, ...given }, words);
}

/** A form whose answer is its fields as texts; nothing is sent anywhere. */
export function form(fields, words, taken) {
  return h("form", { class: "act", onsubmit: (event) => {
    event.preventDefault();
    taken(Object.fromEntries(new FormData(event.target)));
  } }, fields, h("button", { class: "main" }, words));
}

export function field(name, label, given = {}) {
  const id = `field-${name}`;
  return h("div", { class: "field" }, h("label", { for: id }, label), h("input", {
    id, name, autocomplete: "off", autocapitalize: "characters", spellcheck: "false", enterkeyhint: "go", ...given,
  }));
}

export function choices(name, legend, options, chosen) {
  return h("fieldset", { class: "choices" }, h("legend", {}, legend), options.map(([value, words], at) => h("label", {},
    h("input", { type: "radio", name, value, checked: chosen === undefined ? at === 0 : chosen === value }), h("span", {}, words))));
}
