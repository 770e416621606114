// Handheld scanners that act as a keyboard: they type into the page, whatever has the focus, and end with Enter or Tab.

const PAUSE = 2500; // ms after which half a code is forgotten

/** Listen on `page`; `taken(text)` for each code, `typing(text)` while one is coming. Returns a way to stop. */
export function listen(page, taken, typing = () => {}, now = () => performance.now()) {
  let text = "";
  let last = 0;

  function heard(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (event.target.closest?.("input, textarea, select, [contenteditable]")) return;
    if (now() - last > PAUSE) text = "";
    last = now();
    if (event.key === "Enter" || event.key === "Tab") return ended(event);
    if (event.key === "Backspace") text = text.slice(0, -1);
    else if (event.key.length === 1 && !(event.key === " " && !text)) text += event.key;
    else return;
    event.preventDefault(); // else a focused button would be pressed by a space
    typing(text);
  }

  function ended(event) {
    if (text.trim().length < 2) return;
    event.preventDefault();
    event.stopPropagation();
    const whole = text;
    text = "";
    typing("");
    taken(whole);
  }

  page.addEventListener("keydown", heard, true);
  return () => page.removeEventListener("keydown", heard, true);
}
