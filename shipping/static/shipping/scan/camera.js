// The camera: frames to the decoder one after another, and each code in view handed on once, one at a time.

import { h } from "./dom.js";

const LONGEST = 960; // px of the whole frame as it is read
const CROP = 640; // px of the middle, read at full sharpness
const AWAY = 2500; // ms out of view before the same code counts again
const REST = 60; // ms between frames, so that the page stays quick

/** Why there is no camera, in words, or "". */
export function whyNot(error) {
  if (!globalThis.isSecureContext) {
    return "The camera works only over https. Typed codes and a handheld scanner work here all the same; ask for the https address of this page.";
  }
  if (!navigator.mediaDevices?.getUserMedia) return "This browser gives no page a camera. Type the code, or use a handheld scanner.";
  const words = {
    NotAllowedError: "The camera is not allowed for this page. Allow it in the browser's settings for this site, then press Camera.",
    NotFoundError: "This device has no camera. Type the code, or use a handheld scanner.",
    NotReadableError: "Another app holds the camera. Close it, then press Camera.",
  };
  return error ? words[error.name] || `The camera did not start (${error.name}). Type the code instead.` : "";
}

/** On a crew's own network: the page that says how a phone comes to trust the https address. Else nothing. */
export function toTrust(app) {
  const { trust } = app.addresses;
  return trust && !globalThis.isSecureContext && h("p", { class: "acts" }, h("a", { class: "button", href: trust }, "How to get the camera"));
}

export class Camera {
  /** @param {HTMLVideoElement} video @param {import("./decoder.js").Decoder} decoder @param {(text: string) => unknown} taken */
  constructor(video, decoder, taken) {
    Object.assign(this, { video, decoder, taken });
    this.seen = new Map(); // text -> when last in view
    this.queue = [];
    this.turn = 0;
    this.frames = 0;
  }

  async start() {
    const wanted = { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } };
    this.stream = await navigator.mediaDevices.getUserMedia({ video: wanted, audio: false });
    this.video.srcObject = this.stream;
    await this.video.play();
    this.on = true;
    this.began = performance.now();
    this._loop();
  }

  stop() {
    this.on = false;
    this.stream?.getTracks().forEach((track) => track.stop());
    this.video.srcObject = null;
    this.queue = [];
  }

  get track() {
    return this.stream?.getVideoTracks()[0];
  }

  get hasTorch() {
    return Boolean(this.track?.getCapabilities?.().torch);
  }

  async torch(on) {
    await this.track?.applyConstraints({ advanced: [{ torch: on }] });
  }

  async _loop() {
    while (this.on) {
      if (this.video.readyState >= 2 && document.visibilityState === "visible") await this._look();
      await new Promise((ok) => setTimeout(ok, REST));
    }
  }

  async _look() {
    const texts = await this.frame().then((view) => this.decoder.read(view)).catch(() => []);
    this.frames += 1;
    const at = performance.now();
    for (const text of texts) {
      if (!text) continue;
      const known = this.seen.get(text);
      this.seen.set(text, at);
      if (known === undefined || at - known > AWAY) this.queue.push({ text, at });
    }
    if (!this.busy) this._handOn();
  }

  /** One code after another: the next waits until the one before has been said. */
  async _handOn() {
    this.busy = true;
    try {
      for (let one = this.queue.shift(); one && this.on; one = this.queue.shift()) await this.taken(one.text, one.at);
    } finally {
      this.busy = false;
    }
  }

  /** Turn by turn the middle at full sharpness, for small labels, and the whole frame, for several at once. */
  async frame() {
    this.turn = (this.turn + 1) % 2;
    const part = this.turn ? middle : whole;
    if (!globalThis.OffscreenCanvas) return this._drawn(part(this.video.videoWidth, this.video.videoHeight));
    const picture = globalThis.VideoFrame ? new VideoFrame(this.video) : await createImageBitmap(this.video);
    return { picture, ...part(picture.displayWidth || picture.width, picture.displayHeight || picture.height) };
  }

  /** Pixels, where the browser cannot draw on another thread. */
  _drawn({ x, y, width, height, scale }) {
    this.canvas ||= document.createElement("canvas");
    this.canvas.width = Math.round(width * scale);
    this.canvas.height = Math.round(height * scale);
    const pen = this.canvas.getContext("2d", { willReadFrequently: true });
    pen.drawImage(this.video, x, y, width, height, 0, 0, this.canvas.width, this.canvas.height);
    return pen.getImageData(0, 0, this.canvas.width, this.canvas.height);
  }
}

function middle(width, height) {
  const side = Math.min(width, height, CROP);
  return { x: (width - side) / 2, y: (height - side) / 2, width: side, height: side, scale: 1 };
}

function whole(width, height) {
  return { x: 0, y: 0, width, height, scale: Math.min(1, LONGEST / Math.max(width, height)) };
}

/** Read a still picture at several sizes, for a label that the moving picture does not read. */
export async function readStill(decoder, blob) {
  const picture = await createImageBitmap(blob);
  for (const longest of [1600, 1000, 2400, 600]) {
    const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    const pen = canvas.getContext("2d", { willReadFrequently: true });
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const found = await decoder.read(pen.getImageData(0, 0, canvas.width, canvas.height)).catch(() => []);
    if (found.length) return found;
  }
  return [];
}
