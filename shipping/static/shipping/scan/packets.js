// Scans as a run of short texts that another phone reads one by one, in any order, and knows when it has them all.

const FRAME = /^SB1([ZP])([0-9A-F]{8}):(\d{1,4}):(\d{1,4}):(.*):([0-9A-F]{8})$/s;
const BYTES = 220; // a frame: with its head it fits version 10, which a phone reads off another's screen
const BASE45 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"; // RFC 9285
const MOST = 4_000_000; // bytes a run may unpack to

export function base45(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 2) {
    const pair = at + 1 < bytes.length;
    let value = pair ? bytes[at] * 256 + bytes[at + 1] : bytes[at];
    for (let digit = 0; digit < (pair ? 3 : 2); digit++) {
      text += BASE45[value % 45];
      value = Math.floor(value / 45);
    }
  }
  return text;
}

/** Throws RangeError where the text is none. */
export function unbase45(text) {
  const out = [];
  for (let at = 0; at < text.length; at += 3) {
    const digits = [...text.slice(at, at + 3)].map((one) => BASE45.indexOf(one));
    const value = digits.reduce((sum, digit, place) => sum + digit * 45 ** place, 0);
    if (digits.includes(-1) || digits.length === 1 || value > (digits.length === 3 ? 0xffff : 0xff)) throw new RangeError("not base45");
    if (digits.length === 3) out.push(value >> 8);
    out.push(value & 0xff);
  }
  return new Uint8Array(out);
}

/** CRC-32 as zlib has it, in eight hexadecimal digits. */
export function crc32(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ((crc ^ 0xffffffff) >>> 0).toString(16).toUpperCase().padStart(8, "0");
}

const asBytes = (text) => new TextEncoder().encode(text);

async function through(stream, bytes) {
  const reader = new Blob([bytes]).stream().pipeThrough(stream).getReader();
  const parts = [];
  let length = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    length += value.length;
    if (length > MOST) throw new RangeError("too much to unpack");
    parts.push(value);
  }
  return new Uint8Array(await new Blob(parts).arrayBuffer());
}

/**
 * @param {{maker: string, body: object}[]} rows @returns {Promise<string[]>} the frames of one run, each with its own
 * check, the run named by the check of the whole.
 */
export async function pack(rows) {
  const plain = asBytes(JSON.stringify(rows.map(({ maker, body }) => ({ maker, body }))));
  const squeezed = typeof CompressionStream !== "undefined";
  const bytes = squeezed ? await through(new CompressionStream("deflate-raw"), plain) : plain;
  const count = Math.max(1, Math.ceil(bytes.length / BYTES));
  const run = crc32(bytes);
  return Array.from({ length: count }, (_, at) => {
    const head = `SB1${squeezed ? "Z" : "P"}${run}:${at + 1}:${count}:${base45(bytes.slice(at * BYTES, (at + 1) * BYTES))}`;
    return `${head}:${crc32(asBytes(head))}`;
  });
}

export function isFrame(text) {
  return text.startsWith("SB1") && FRAME.test(text);
}

/** Collects the frames of one run; another run's frame starts anew. */
export class Collector {
  constructor() {
    this.run = "";
    this.parts = new Map();
    this.count = 0;
  }

  get have() {
    return this.parts.size;
  }

  get missing() {
    return Array.from({ length: this.count }, (_, at) => at + 1).filter((number) => !this.parts.has(number));
  }

  /** Take one frame. Returns "new", "again", or "bad" where it does not check. */
  add(text) {
    const found = FRAME.exec(text);
    if (!found || crc32(asBytes(text.slice(0, -9))) !== found[6]) return "bad";
    const [, kind, run, number, count, payload] = found;
    if (run !== this.run) Object.assign(this, { run, kind, count: Number(count), parts: new Map() });
    if (Number(number) < 1 || Number(number) > this.count || Number(count) !== this.count) return "bad";
    if (this.parts.has(Number(number))) return "again";
    try {
      this.parts.set(Number(number), unbase45(payload));
    } catch {
      return "bad";
    }
    return "new";
  }

  /** The rows of the whole run, or null while frames are missing. Throws where the whole does not check. */
  async rows() {
    if (!this.count || this.missing.length) return null;
    const parts = Array.from({ length: this.count }, (_, at) => this.parts.get(at + 1));
    const bytes = new Uint8Array(await new Blob(parts).arrayBuffer());
    if (crc32(bytes) !== this.run) throw new RangeError("the run does not check as a whole; show it again");
    if (this.kind === "Z" && typeof DecompressionStream === "undefined") throw new RangeError("this browser is too old to take scans over");
    const plain = this.kind === "Z" ? await through(new DecompressionStream("deflate-raw"), bytes) : bytes;
    return JSON.parse(new TextDecoder().decode(plain));
  }
}
