// Four sounds and four buzzes that nobody mixes up: pitch, rhythm and length all differ. Made in code, no files.

/** word -> notes [start ms, length ms, Hz, shape] and a vibration [on, off, on, ...] in ms. */
export const TONES = {
  good: { notes: [[0, 90, 880, "sine"], [90, 150, 1320, "sine"]], buzz: [60] },
  "already done": { notes: [[0, 80, 660, "sine"], [180, 80, 660, "sine"]], buzz: [60, 120, 60] },
  wrong: { notes: [[0, 220, 196, "sawtooth"], [280, 220, 165, "sawtooth"], [560, 320, 131, "sawtooth"]], buzz: [350, 100, 350] },
  unknown: { notes: [[0, 110, 494, "triangle"], [130, 110, 587, "triangle"], [260, 110, 494, "triangle"], [390, 110, 587, "triangle"]],
    buzz: [60, 60, 60, 60, 60, 60, 60] },
};
const LOUD = 0.8;
const EDGE = 0.008; // seconds of fade, else it clicks

let shared = null;

/** Call from a tap: browsers let no page sound before one. */
export function wake() {
  const Context = globalThis.AudioContext || globalThis.webkitAudioContext;
  if (!shared && Context) shared = new Context({ latencyHint: "interactive" });
  if (shared?.state === "suspended") resume();
  return shared?.state === "running";
}

let waking = null;

/** Asked once at a time: a context that may not sound yet would collect a promise for every scan. */
function resume() {
  waking ||= shared.resume().catch(() => {}).finally(() => (waking = null));
}

/** How long a word sounds, in ms. */
export function lengthOf(word) {
  return Math.max(...TONES[word].notes.map(([start, length]) => start + length));
}

/** Put the notes of a word on a context's timeline; also used by the tests, on one that renders to memory. */
export function schedule(context, word) {
  for (const [start, length, pitch, shape] of TONES[word].notes) {
    const from = context.currentTime + start / 1000;
    const to = from + length / 1000;
    const voice = context.createOscillator();
    const level = context.createGain();
    voice.type = shape;
    voice.frequency.value = pitch;
    level.gain.setValueAtTime(0, from);
    level.gain.linearRampToValueAtTime(LOUD, from + EDGE);
    level.gain.setValueAtTime(LOUD, to - EDGE);
    level.gain.linearRampToValueAtTime(0, to);
    voice.connect(level).connect(context.destination);
    voice.start(from);
    voice.stop(to);
  }
}

export function sound(word) {
  wake();
  if (shared) schedule(shared, word);
  navigator.vibrate?.(TONES[word].buzz);
}
