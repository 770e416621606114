// Pixels in, texts out: the browser's own reader where it has one, else the WebAssembly one we serve, on a thread of its own.

/**
 * @typedef {{picture: VideoFrame|ImageBitmap, x: number, y: number, width: number, height: number, scale: number}} View
 *   a part of a picture and the scale it is to be read at; reading it lets the picture go.
 * @typedef {{name: string, read: (source: ImageData|View) => Promise<string[]>}} Decoder
 */

/** @param {{glue: string, wasm: string, decoding: string}} addresses @returns {Promise<Decoder>} */
export async function decoder(addresses, { native = true } = {}) {
  return (native && (await own())) || (await served(addresses));
}

async function own() {
  const Detector = globalThis.BarcodeDetector;
  if (!Detector) return null;
  const formats = await Detector.getSupportedFormats().catch(() => []);
  if (!formats.includes("qr_code")) return null;
  const wanted = ["qr_code", "code_128", "data_matrix"].filter((format) => formats.includes(format));
  const detector = new Detector({ formats: wanted });
  const read = async (source) => {
    try {
      return (await detector.detect(source.picture || source)).map((one) => one.rawValue);
    } finally {
      source.picture?.close();
    }
  };
  return { name: "the browser's own", read };
}

let loading = null;

async function served(addresses) {
  loading ||= begin(addresses).catch((why) => {
    loading = null;
    throw why;
  });
  const ask = await loading;
  return {
    name: "zxing-wasm",
    read: (source) => ask({ view: source }, [source.picture || source.data.buffer]),
  };
}

/** Start the reader's thread; returns ask(words, what goes over to it), which resolves with its answer. */
async function begin({ glue, wasm, decoding }) {
  const [reader, own, program] = await Promise.all([kept(glue, "text"), kept(decoding, "text"), kept(wasm, "arrayBuffer")]);
  const thread = new Worker(URL.createObjectURL(new Blob([reader, "\n", own], { type: "text/javascript" })));
  const waiting = new Map();
  let last = 0;
  const ask = (words, over) => new Promise((ok, fail) => {
    waiting.set((last += 1), { ok, fail });
    thread.postMessage({ id: last, ...words }, over);
  });
  thread.onmessage = ({ data: { id, texts, why } }) => {
    const asked = waiting.get(id);
    waiting.delete(id);
    if (why) asked.fail(new Error(why));
    else asked.ok(texts);
  };
  thread.onerror = () => {
    waiting.forEach(({ fail }) => fail(new Error("the code reader stopped")));
    waiting.clear();
  };
  await ask({ program }, [program]);
  return ask;
}

async function kept(address, as) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error("the code reader could not be loaded");
  return answer[as]();
}
