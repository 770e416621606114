// A signature drawn with a finger. Without this script the name in letters is enough.
const INK = "#111", PAPER = "#fff", WIDTH = 2.5;

/** @param {HTMLCanvasElement} canvas @param {PointerEvent} event */
function spot(canvas, event) {
  const box = canvas.getBoundingClientRect();
  return [((event.clientX - box.left) * canvas.width) / box.width, ((event.clientY - box.top) * canvas.height) / box.height];
}

/** @param {HTMLInputElement} field the hidden field that takes the picture */
function offer(field) {
  const canvas = document.createElement("canvas");
  canvas.width = 640; canvas.height = 200; canvas.className = "signature"; canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", "Sign here with a finger or a pen; or write the name above");
  const again = document.createElement("button");
  again.type = "button"; again.className = "plain"; again.textContent = "Clear the signature";
  const holder = document.createElement("div"), words = document.createElement("p");
  holder.className = "field"; words.className = "help"; words.textContent = "Sign here with a finger (may stay empty)";
  holder.append(words, canvas, again);
  const after = field.form.elements.namedItem(field.dataset.signature);
  after.closest(".field").after(holder);
  const pen = canvas.getContext("2d");
  const clear = () => { pen.fillStyle = PAPER; pen.fillRect(0, 0, canvas.width, canvas.height); field.value = ""; };
  clear();
  let drawing = false;
  canvas.addEventListener("pointerdown", (event) => {
    drawing = true; canvas.setPointerCapture(event.pointerId);
    pen.strokeStyle = INK; pen.lineWidth = WIDTH; pen.lineCap = "round"; pen.beginPath(); pen.moveTo(...spot(canvas, event));
  });
  canvas.addEventListener("pointermove", (event) => { if (drawing) { pen.lineTo(...spot(canvas, event)); pen.stroke(); } });
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, () => { if (drawing) field.value = canvas.toDataURL("image/png"); drawing = false; });
  }
  again.addEventListener("click", clear);
}

document.querySelectorAll("input[data-signature]").forEach(offer);
