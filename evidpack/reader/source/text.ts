// Texts and bytes: hexadecimal, order by code point, and how bytes from outside are shown.

const HEX = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, "0"));
const encoder = new TextEncoder();
const strict = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
const LONGEST_NAME_CHARACTERS = 120;

export const utf8 = (text: string): Uint8Array => encoder.encode(text);

/** The text of UTF-8 bytes, a byte order mark kept, or null where they are not UTF-8. */
export function textOf(bytes: Uint8Array): string | null {
  try {
    return strict.decode(bytes);
  } catch {
    return null;
  }
}

export function hex(bytes: Uint8Array, between = ""): string {
  let out = "";
  for (let i = 0; i < bytes.length; i++) out += (i ? between : "") + HEX[bytes[i]];
  return out;
}

/** Bytes of lower-case hexadecimal digits, or null. */
export function unhex(text: string): Uint8Array | null {
  if (text.length % 2 || !/^[0-9a-f]*$/.test(text)) return null;
  const bytes = new Uint8Array(text.length / 2);
  for (let i = 0; i < bytes.length; i++) bytes[i] = parseInt(text.slice(2 * i, 2 * i + 2), 16);
  return bytes;
}

export function same(one: Uint8Array, other: Uint8Array): boolean {
  if (one.length !== other.length) return false;
  for (let i = 0; i < one.length; i++) if (one[i] !== other[i]) return false;
  return true;
}

/** Order of bytes, the shorter first where one begins the other. */
export function compareBytes(one: Uint8Array, other: Uint8Array): number {
  const shorter = Math.min(one.length, other.length);
  for (let i = 0; i < shorter; i++) if (one[i] !== other[i]) return one[i] - other[i];
  return one.length - other.length;
}

/** Order by code point, which is the order of the UTF-8 bytes; JavaScript's own is by UTF-16. */
export function compareText(one: string, other: string): number {
  const shorter = Math.min(one.length, other.length);
  for (let i = 0; i < shorter; i++) {
    const a = one.charCodeAt(i);
    const b = other.charCodeAt(i);
    if (a !== b) return rank(a) - rank(b);
  }
  return one.length - other.length;
}

// Surrogates stand for code points above all others of 16 bits.
const rank = (unit: number): number => (unit >= 0xd800 && unit < 0xe000 ? unit + 0x10000 : unit);

/** A quoted form in ASCII in which no character can hide. */
export function inAscii(text: string): string {
  const quote = text.includes("'") && !text.includes('"') ? '"' : "'";
  let out = "";
  for (const character of text) out += escaped(character, quote);
  return quote + out + quote;
}

/** The same for bytes. */
export function bytesInAscii(bytes: Uint8Array): string {
  return "b" + inAscii(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
}

function escaped(character: string, quote: string): string {
  const point = character.codePointAt(0) as number;
  if (character === quote || character === "\\") return "\\" + character;
  if (character === "\n") return "\\n";
  if (character === "\r") return "\\r";
  if (character === "\t") return "\\t";
  if (point >= 0x20 && point < 0x7f) return character;
  if (point < 0x100) return "\\x" + HEX[point];
  if (point < 0x10000) return "\\u" + point.toString(16).padStart(4, "0");
  return "\\U" + point.toString(16).padStart(8, "0");
}

/** Hex in groups of four digits, the one form in which a person compares a fingerprint. */
export function grouped(digest: Uint8Array): string {
  return (hex(digest).match(/.{1,4}/g) ?? []).join(" ");
}

/** Words from outside made safe to show: one line, no control characters, bounded length. */
export function quotedText(text: string): string {
  let shown = Array.from(text, (mark) => (mark !== " " && /[\p{C}\p{Z}]/u.test(mark) ? "?" : mark));
  if (shown.length > LONGEST_NAME_CHARACTERS) {
    shown = [...shown.slice(0, LONGEST_NAME_CHARACTERS - 1), "…"];
  }
  return `“${shown.join("")}”`;
}

/** Begin of a text, counted in code points. */
export function begin(text: string, count: number): string {
  return text.length <= count ? text : Array.from(text).slice(0, count).join("");
}

/** Whether there is nothing but white space in it, as Python's `\s` has it. */
export const isBlank = (text: string): boolean =>
  /^[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]*$/.test(text);

/** Number of characters, counted in code points. */
export function characters(text: string): number {
  let count = 0;
  for (const _ of text) count++;
  return count;
}
