// The four results as shapes of our own: they say the same without colour.

const SVG = "http://www.w3.org/2000/svg";
const SHAPES = {
  good: [["rect", { x: 4, y: 22, width: 112, height: 36 }]],
  "already done": [["rect", { x: 4, y: 16, width: 112, height: 18 }], ["rect", { x: 4, y: 46, width: 112, height: 18 }]],
  wrong: [["path", { d: "M108 8 L14 40 L108 72", fill: "none", "stroke-width": 14, stroke: "currentColor", "stroke-linejoin": "miter" }]],
  unknown: [["circle", { cx: 60, cy: 40, r: 30, fill: "none", "stroke-width": 13, stroke: "currentColor", "stroke-dasharray": "4 19.6", "stroke-linecap": "round" }]],
};
export const MEANING = { good: "settled", "already done": "doubtful", wrong: "stop", unknown: "quiet" };

export function shape(word) {
  const drawing = document.createElementNS(SVG, "svg");
  drawing.setAttribute("viewBox", "0 0 120 80");
  drawing.setAttribute("aria-hidden", "true");
  drawing.setAttribute("class", "shape");
  for (const [tag, given] of SHAPES[word]) {
    const part = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries({ fill: "currentColor", ...given })) part.setAttribute(name, value);
    drawing.append(part);
  }
  return drawing;
}
