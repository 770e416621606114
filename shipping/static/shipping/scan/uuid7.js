// UUIDv7 (RFC 9562, 5.7): 48 bits of milliseconds, then 74 random bits; within one phone each is larger than the last.

/** @param {number} ms milliseconds since 1970 @param {Uint8Array} noise 10 random bytes @returns {string} */
export function uuid7From(ms, noise) {
  const bytes = new Uint8Array(16);
  let rest = ms;
  for (let at = 5; at >= 0; at--) {
    bytes[at] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes.set(noise, 6);
  bytes[6] = (noise[0] & 0x0f) | 0x70;
  bytes[8] = (noise[2] & 0x3f) | 0x80;
  return written(bytes);
}

function written(bytes) {
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** The milliseconds inside a UUIDv7. */
export function timeOf(id) {
  return parseInt(id.replaceAll("-", "").slice(0, 12), 16);
}

/** The smallest UUIDv7 after this one: its 74 free bits plus one, carried into the milliseconds if they are full. */
export function next(id) {
  const hex = id.replaceAll("-", "");
  const free = (BigInt(`0x${hex.slice(13, 16)}`) << 62n) | (BigInt(`0x${hex.slice(16)}`) & ((1n << 62n) - 1n));
  const more = free + 1n;
  const full = more >> 74n === 1n;
  const ms = timeOf(id) + (full ? 1 : 0);
  const bits = full ? 0n : more;
  const head = ms.toString(16).padStart(12, "0");
  const tail = ((bits & ((1n << 62n) - 1n)) | (2n << 62n)).toString(16).padStart(16, "0");
  const whole = `${head}7${(bits >> 62n).toString(16).padStart(3, "0")}${tail}`;
  return [whole.slice(0, 8), whole.slice(8, 12), whole.slice(12, 16), whole.slice(16, 20), whole.slice(20)].join("-");
}

/** A new id for this moment, larger than `last` whatever the clock has done. @param {number} ms @param {string} [last] */
export function uuid7(ms, last = "") {
  const made = uuid7From(ms, crypto.getRandomValues(new Uint8Array(10)));
  return last && made <= last ? next(last) : made;
}
