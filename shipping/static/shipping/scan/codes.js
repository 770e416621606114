// Reading a code as typed, scanned or said, and whether its check character fits (ISO/IEC 7064 MOD 37,36).

export const ALPHABET = "3479ACEFHJKMNPRTWXY";
export const LENGTH = 7;
const CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const ADDRESS = /^HTTPS?:\/\/[^/\s]+\/T\/([^/\s?#]+)\/?$/;
const JOIN = /^HTTPS?:\/\/[^/\s]+\/JOIN\/([^/\s?#]+)\/?$/;

/** The code in a text: capitals, no spaces, the last part of an address of any host. */
export function codeIn(text) {
  const plain = text.trim().toUpperCase();
  const found = ADDRESS.exec(plain);
  return found ? found[1] : plain.replace(/\s+/g, "");
}

/** The code of a pass in a join address or as typed, else "". */
export function passIn(text) {
  const found = JOIN.exec(text.trim().toUpperCase());
  return found ? decodeURIComponent(found[1]) : "";
}

/** Does the last character fit the rest? */
export function isWhole(code) {
  if (code.length < 2) return false;
  let check = 18;
  for (const character of code) {
    const value = CHARACTERS.indexOf(character);
    if (value < 0) return false;
    check = (((check || 36) * 2) % 37 + value) % 36;
  }
  return check === 1;
}

/** Has it the shape of one of our codes, yet a check character that does not fit? */
export function isMisread(code) {
  return code.length === LENGTH && !code.includes("-") && !isWhole(code);
}
