// Pixels in, texts out: the browser's own reader where it has one, else the WebAssembly one we serve.

/** @typedef {{name: string, read: (source: ImageData|CanvasImageSource) => Promise<string[]>}} Decoder */

/** @param {{glue: string, wasm: string}} addresses @returns {Promise<Decoder>} */
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
  return { name: "the browser's own", read: async (image) => (await detector.detect(image)).map((one) => one.rawValue) };
}

let loading = null;

async function served({ glue, wasm }) {
  loading ||= load(glue, wasm).catch((why) => {
    loading = null;
    throw why;
  });
  const reader = await loading;
  const options = { formats: ["QRCode", "Code128", "DataMatrix"], maxNumberOfSymbols: 8, tryHarder: true, tryInvert: true };
  return {
    name: "zxing-wasm",
    read: async (image) => (await reader.readBarcodes(image, options)).filter((one) => one.isValid).map((one) => one.text),
  };
}

async function load(glue, wasm) {
  if (!globalThis.ZXingWASM) await script(glue);
  await globalThis.ZXingWASM.prepareZXingModule({
    overrides: { locateFile: (path, prefix) => (path.endsWith(".wasm") ? wasm : prefix + path) },
    fireImmediately: true,
  });
  return globalThis.ZXingWASM;
}

function script(address) {
  return new Promise((ok, fail) => {
    const tag = document.createElement("script");
    tag.src = address;
    tag.onload = ok;
    tag.onerror = () => fail(new Error("the code reader could not be loaded"));
    document.head.append(tag);
  });
}
