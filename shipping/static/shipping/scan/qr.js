// Draws a QR symbol (ISO/IEC 18004): alphanumeric texts at level L, versions 1 to 20. For handing scans to another phone.

const CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";
const WORDS = [26, 44, 70, 100, 134, 172, 196, 242, 292, 346, 404, 466, 532, 581, 655, 733, 815, 901, 991, 1085];
const CHECKS = [7, 10, 15, 20, 26, 18, 20, 24, 30, 18, 20, 24, 26, 30, 22, 24, 28, 30, 28, 28]; // in each block
const BLOCKS = [1, 1, 1, 1, 1, 2, 2, 2, 2, 4, 4, 4, 4, 4, 6, 6, 6, 6, 7, 8];
const LEVEL_L = 1;
const MASK = 4;

const dataWords = (version) => WORDS[version - 1] - CHECKS[version - 1] * BLOCKS[version - 1];
const countBits = (version) => (version < 10 ? 9 : 11);

/** How many characters a version holds at level L. */
export function capacity(version) {
  const bits = dataWords(version) * 8 - 4 - countBits(version);
  return Math.floor(bits / 11) * 2 + (bits % 11 >= 6 ? 1 : 0);
}

/** The modules of the smallest symbol that holds the text: rows of true for dark. Throws RangeError. */
export function matrix(text) {
  const version = WORDS.findIndex((_, at) => capacity(at + 1) >= text.length) + 1;
  if (!version || [...text].some((one) => !CHARACTERS.includes(one))) throw new RangeError("this text does not fit a symbol");
  const size = version * 4 + 17;
  const dark = Array.from({ length: size }, () => new Array(size).fill(false));
  const fixed = Array.from({ length: size }, () => new Array(size).fill(false));
  drawFixed(version, size, (x, y, on) => {
    dark[y][x] = on;
    fixed[y][x] = true;
  });
  drawData(interleaved(dataOf(text, version), version), size, dark, fixed);
  return dark;
}

function dataOf(text, version) {
  const bits = [];
  const put = (value, length) => {
    for (let at = length - 1; at >= 0; at--) bits.push((value >> at) & 1);
  };
  put(2, 4);
  put(text.length, countBits(version));
  for (let at = 0; at < text.length; at += 2) {
    const one = CHARACTERS.indexOf(text[at]);
    if (at + 1 < text.length) put(one * 45 + CHARACTERS.indexOf(text[at + 1]), 11);
    else put(one, 6);
  }
  const room = dataWords(version) * 8;
  put(0, Math.min(4, room - bits.length));
  while (bits.length % 8) bits.push(0);
  const words = [];
  for (let at = 0; at < bits.length; at += 8) words.push(parseInt(bits.slice(at, at + 8).join(""), 2));
  for (let pad = 0xec; words.length < room / 8; pad ^= 0xec ^ 0x11) words.push(pad);
  return words;
}

function times(a, b) {
  let product = 0;
  for (let at = 7; at >= 0; at--) {
    product = (product << 1) ^ ((product >> 7) * 0x11d);
    product ^= ((b >> at) & 1) * a;
  }
  return product;
}

function generator(degree) {
  const found = new Array(degree).fill(0);
  found[degree - 1] = 1;
  let root = 1;
  for (let step = 0; step < degree; step++) {
    for (let at = 0; at < degree; at++) found[at] = times(found[at], root) ^ (at + 1 < degree ? found[at + 1] : 0);
    root = times(root, 2);
  }
  return found;
}

function checksOf(words, divisor) {
  const rest = new Array(divisor.length).fill(0);
  for (const word of words) {
    const factor = word ^ rest.shift();
    rest.push(0);
    divisor.forEach((value, at) => (rest[at] ^= times(value, factor)));
  }
  return rest;
}

function interleaved(words, version) {
  const blocks = BLOCKS[version - 1];
  const short = Math.floor(dataWords(version) / blocks);
  const longer = dataWords(version) % blocks;
  const divisor = generator(CHECKS[version - 1]);
  const parts = [];
  let at = 0;
  for (let block = 0; block < blocks; block++) {
    const length = short + (block >= blocks - longer ? 1 : 0);
    parts.push(words.slice(at, at + length));
    at += length;
  }
  const out = [];
  for (let column = 0; column <= short; column++) parts.forEach((part) => column < part.length && out.push(part[column]));
  const checks = parts.map((part) => checksOf(part, divisor));
  for (let column = 0; column < divisor.length; column++) checks.forEach((part) => out.push(part[column]));
  return out;
}

function drawFixed(version, size, set) {
  for (let at = 0; at < size; at++) {
    set(6, at, at % 2 === 0);
    set(at, 6, at % 2 === 0);
  }
  for (const [cx, cy] of [[3, 3], [size - 4, 3], [3, size - 4]]) finder(cx, cy, size, set);
  const spots = aligned(version, size);
  const last = spots.length - 1;
  spots.forEach((x, i) => spots.forEach((y, j) => {
    const corner = (i === 0 && j === 0) || (i === 0 && j === last) || (i === last && j === 0);
    if (!corner) square(x, y, 2, set);
  }));
  formatBits(size, set);
  if (version >= 7) versionBits(version, size, set);
}

function finder(cx, cy, size, set) {
  for (let dy = -4; dy <= 4; dy++) {
    for (let dx = -4; dx <= 4; dx++) {
      const [x, y, ring] = [cx + dx, cy + dy, Math.max(Math.abs(dx), Math.abs(dy))];
      if (x >= 0 && x < size && y >= 0 && y < size) set(x, y, ring !== 2 && ring !== 4);
    }
  }
}

function square(cx, cy, reach, set) {
  for (let dy = -reach; dy <= reach; dy++) {
    for (let dx = -reach; dx <= reach; dx++) set(cx + dx, cy + dy, Math.max(Math.abs(dx), Math.abs(dy)) !== 1);
  }
}

function aligned(version, size) {
  if (version === 1) return [];
  const count = Math.floor(version / 7) + 2;
  const step = Math.ceil((version * 4 + 4) / (count * 2 - 2)) * 2;
  const found = [6];
  for (let at = size - 7; found.length < count; at -= step) found.splice(1, 0, at);
  return found;
}

function remainder(value, bits, divisor) {
  let rest = value;
  for (let at = 0; at < bits; at++) rest = (rest << 1) ^ ((rest >> (bits - 1)) * divisor);
  return rest;
}

function formatBits(size, set) {
  const data = (LEVEL_L << 3) | MASK;
  const bits = ((data << 10) | remainder(data, 10, 0x537)) ^ 0x5412;
  const bit = (at) => ((bits >> at) & 1) === 1;
  for (let at = 0; at < 6; at++) set(8, at, bit(at));
  set(8, 7, bit(6));
  set(8, 8, bit(7));
  set(7, 8, bit(8));
  for (let at = 9; at < 15; at++) set(14 - at, 8, bit(at));
  for (let at = 0; at < 8; at++) set(size - 1 - at, 8, bit(at));
  for (let at = 8; at < 15; at++) set(8, size - 15 + at, bit(at));
  set(8, size - 8, true);
}

function versionBits(version, size, set) {
  const bits = (version << 12) | remainder(version, 12, 0x1f25);
  for (let at = 0; at < 18; at++) {
    const on = ((bits >> at) & 1) === 1;
    const [a, b] = [size - 11 + (at % 3), Math.floor(at / 3)];
    set(a, b, on);
    set(b, a, on);
  }
}

/** Two columns at a time from the right, up and down in turn, over whatever is not fixed. */
function drawData(words, size, dark, fixed) {
  let at = 0;
  for (let right = size - 1; right >= 1; right -= 2) {
    if (right === 6) right = 5;
    const up = ((right + 1) & 2) === 0;
    for (let step = 0; step < size; step++) {
      const y = up ? size - 1 - step : step;
      for (const x of [right, right - 1]) {
        if (fixed[y][x]) continue;
        const bit = at < words.length * 8 && ((words[at >> 3] >> (7 - (at & 7))) & 1) === 1;
        at += 1;
        const masked = (Math.floor(x / 3) + Math.floor(y / 2)) % 2 === 0;
        dark[y][x] = bit !== masked;
      }
    }
  }
}

/** Draw a symbol on a canvas with its quiet zone of four modules, in whole pixels a module. */
export function draw(canvas, text, side) {
  const modules = matrix(text);
  const dot = Math.max(1, Math.floor(side / (modules.length + 8)));
  canvas.width = canvas.height = dot * (modules.length + 8);
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.fillStyle = "#000";
  modules.forEach((row, y) => row.forEach((on, x) => on && pen.fillRect((x + 4) * dot, (y + 4) * dot, dot, dot)));
}
