// The code reader's own thread, so that reading pictures never holds up a scan. It runs behind the reader's script in one
// blob, and is given the reader's program: such a thread asks for nothing by itself, with or without a network.

const OPTIONS = { formats: ["QRCode", "Code128", "DataMatrix"], maxNumberOfSymbols: 8, tryHarder: true, tryInvert: true };
let pen = null;

/** Pixels of a part of a picture, at `scale` of its size; the picture is let go. */
function pixels({ picture, x, y, width, height, scale }) {
  const across = Math.round(width * scale);
  const down = Math.round(height * scale);
  pen ||= new OffscreenCanvas(across, down).getContext("2d", { willReadFrequently: true });
  Object.assign(pen.canvas, { width: across, height: down });
  pen.drawImage(picture, x, y, width, height, 0, 0, across, down);
  picture.close();
  return pen.getImageData(0, 0, across, down);
}

async function answer({ program, view }) {
  if (program) return void (await globalThis.ZXingWASM.prepareZXingModule({ overrides: { wasmBinary: program }, fireImmediately: true }));
  const found = await globalThis.ZXingWASM.readBarcodes(view.picture ? pixels(view) : view, OPTIONS);
  return found.filter((one) => one.isValid).map((one) => one.text);
}

globalThis.onmessage = ({ data }) => answer(data).then(
  (texts) => postMessage({ id: data.id, texts }),
  (why) => postMessage({ id: data.id, why: String(why?.message || why) }),
);
