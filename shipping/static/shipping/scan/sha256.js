// SHA-256 (FIPS 180-4) of a photo: the browser's own, and where plain http has none, this one.

const FIRST = [0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19];

function roots() {
  const found = [];
  for (let number = 2; found.length < 64; number++) {
    let prime = true;
    for (let by = 2; by * by <= number; by++) prime &&= number % by !== 0;
    if (prime) found.push(((Math.cbrt(number) % 1) * 2 ** 32) >>> 0);
  }
  return found;
}
const K = roots();
const turn = (value, by) => (value >>> by) | (value << (32 - by));

export function sha256(bytes) {
  const length = bytes.length;
  const padded = new Uint8Array((((length + 8) >> 6) + 1) << 6);
  padded.set(bytes);
  padded[length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 8, Math.floor(length / 2 ** 29));
  view.setUint32(padded.length - 4, (length << 3) >>> 0);
  const state = [...FIRST];
  for (let at = 0; at < padded.length; at += 64) block(view, at, state);
  return state.map((word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
}

function block(view, start, state) {
  const w = new Int32Array(64);
  for (let at = 0; at < 16; at++) w[at] = view.getInt32(start + at * 4);
  for (let at = 16; at < 64; at++) {
    const low = turn(w[at - 15], 7) ^ turn(w[at - 15], 18) ^ (w[at - 15] >>> 3);
    const high = turn(w[at - 2], 17) ^ turn(w[at - 2], 19) ^ (w[at - 2] >>> 10);
    w[at] = w[at - 16] + low + w[at - 7] + high;
  }
  let [a, b, c, d, e, f, g, h] = state;
  for (let at = 0; at < 64; at++) {
    const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + K[at] + w[at]) | 0;
    const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((value, at) => (state[at] = (state[at] + value) | 0));
}

/** The hash of a blob in hexadecimal. */
export async function hashOf(blob) {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  if (!globalThis.crypto?.subtle) return sha256(bytes);
  const found = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...found].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
