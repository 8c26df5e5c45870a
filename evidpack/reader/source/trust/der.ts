// DER (X.690), strictly: definite and shortest lengths, sorted sets, no default value written out,
// nothing trailing. Browsers' ASN.1 libraries also take BER, in which the same thing can be written
// in many ways; a signature file has one permitted form here.

import { utcMicros } from "../moment.ts";
import { compareBytes, same } from "../text.ts";

export const BOOLEAN = 0x01;
export const INTEGER = 0x02;
export const BIT_STRING = 0x03;
export const OCTET_STRING = 0x04;
export const NULL = 0x05;
export const OBJECT_IDENTIFIER = 0x06;
export const UTF8_STRING = 0x0c;
export const IA5_STRING = 0x16;
export const UTC_TIME = 0x17;
export const GENERALIZED_TIME = 0x18;
export const SEQUENCE = 0x30;
export const SET = 0x31;
/** Context tags: constructed, and primitive. */
export const context = (number: number): number => 0xa0 + number;
export const contextPrimitive = (number: number): number => 0x80 + number;

/** The bytes are not DER, or not of the shape that is asked for. */
export class DerError extends Error {}

/** One element: its tag byte, its content, and its whole encoding. */
export interface Element {
  tag: number;
  content: Uint8Array;
  raw: Uint8Array;
}

/** The element at `at`, which ends within `bytes`. */
function elementAt(bytes: Uint8Array, at: number): Element {
  const tag = bytes[at];
  if (tag === undefined || bytes[at + 1] === undefined) throw new DerError("short data");
  if ((tag & 0x1f) === 0x1f) throw new DerError("a tag of several bytes");
  let length = bytes[at + 1];
  let from = at + 2;
  if (length >= 0x80) {
    const count = length & 0x7f;
    if (count < 1 || count > 4) throw new DerError("an indefinite or oversized length");
    if (from + count > bytes.length) throw new DerError("short data");
    length = 0;
    for (let i = 0; i < count; i++) length = length * 256 + bytes[from++];
    if (length < 0x80 || length < 256 ** (count - 1)) throw new DerError("a length not in shortest form");
  }
  if (from + length > bytes.length) throw new DerError("short data");
  return {
    tag,
    content: bytes.subarray(from, from + length),
    raw: bytes.subarray(at, from + length),
  };
}

/** Exactly one element, with nothing behind it. */
export function only(bytes: Uint8Array): Element {
  const found = elementAt(bytes, 0);
  if (found.raw.length !== bytes.length) throw new DerError("extra data behind the structure");
  return found;
}

/** The elements that stand one after another. */
export function split(content: Uint8Array): Element[] {
  const elements: Element[] = [];
  for (let at = 0; at < content.length; ) {
    const found = elementAt(content, at);
    elements.push(found);
    at += found.raw.length;
  }
  return elements;
}

/** The members of a SEQUENCE, taken one after another; each must be asked for. */
export class Members {
  readonly #left: Element[];

  constructor(holder: Element, tag = SEQUENCE) {
    requireTag(holder, tag);
    this.#left = split(holder.content);
  }

  /** The next member, of this tag if one is given. */
  take(tag?: number): Element {
    const found = this.#left.shift();
    if (found === undefined) throw new DerError("a part is missing");
    if (tag !== undefined) requireTag(found, tag);
    return found;
  }

  /** The next member if it has this tag. */
  optional(tag: number): Element | null {
    return this.#left[0]?.tag === tag ? this.take() : null;
  }

  end(): void {
    if (this.#left.length) throw new DerError("a part that this format leaves out");
  }
}

function requireTag(element: Element, tag: number): void {
  if (element.tag !== tag) {
    throw new DerError(`tag 0x${element.tag.toString(16)} where 0x${tag.toString(16)} must stand`);
  }
}

/** The members of a SET OF, in DER order. */
export function setOf(holder: Element): Element[] {
  requireTag(holder, SET);
  const members = split(holder.content);
  for (let i = 1; i < members.length; i++) {
    if (compareBytes(members[i - 1].raw, members[i].raw) > 0) throw new DerError("a set not in order");
  }
  return members;
}

export function integer(element: Element): bigint {
  requireTag(element, INTEGER);
  const bytes = element.content;
  const padded = bytes.length > 1 &&
    ((bytes[0] === 0 && bytes[1] < 0x80) || (bytes[0] === 0xff && bytes[1] >= 0x80));
  if (!bytes.length || padded) throw new DerError("a number not in shortest form");
  let value = bytes[0] >= 0x80 ? -1n : 0n;
  for (const byte of bytes) value = (value << 8n) | BigInt(byte);
  return value;
}

export function boolean(element: Element): boolean {
  requireTag(element, BOOLEAN);
  const [byte] = element.content;
  if (element.content.length !== 1 || (byte !== 0 && byte !== 0xff)) {
    throw new DerError("a truth value that is neither 00 nor FF");
  }
  return byte === 0xff;
}

/** The bits of a BIT STRING and how many of the last byte are not in use. */
export function bitString(element: Element): { bytes: Uint8Array; unused: number } {
  const [unused] = element.content;
  const bytes = element.content.subarray(1);
  const last = bytes.at(-1) ?? 0;
  if (unused === undefined || unused > 7 || (unused && !bytes.length)) {
    throw new DerError("a bit string of no possible length");
  }
  if (last & ((1 << unused) - 1)) throw new DerError("unused bits that are not zero");
  return { bytes, unused };
}

/** A whole number of octets in a BIT STRING. */
export function octetsOf(element: Element): Uint8Array {
  requireTag(element, BIT_STRING);
  const { bytes, unused } = bitString(element);
  if (unused) throw new DerError("unused bits in a value of whole octets");
  return bytes;
}

/** An object identifier in dotted form. */
export function identifier(element: Element): string {
  requireTag(element, OBJECT_IDENTIFIER);
  const arcs: bigint[] = [];
  let value = 0n;
  let fresh = true;
  for (const byte of element.content) {
    if (fresh && byte === 0x80) throw new DerError("an object identifier not in shortest form");
    value = (value << 7n) | BigInt(byte & 0x7f);
    fresh = byte < 0x80;
    if (fresh) {
      arcs.push(value);
      value = 0n;
    }
  }
  if (!fresh || !arcs.length) throw new DerError("an object identifier that is broken off");
  const first = arcs[0] < 40n ? 0n : arcs[0] < 80n ? 1n : 2n;
  return [first, arcs[0] - 40n * first, ...arcs.slice(1)].join(".");
}

/** UTCTime or GeneralizedTime with seconds and Z, in microseconds since 1970. */
export function time(element: Element): number {
  const text = String.fromCharCode(...element.content);
  const short = element.tag === UTC_TIME;
  if (!short) requireTag(element, GENERALIZED_TIME);
  const pattern = short
    ? /^(\d\d)(\d\d)(\d\d)(\d\d)(\d\d)(\d\d)Z$/
    : /^(\d{4})(\d\d)(\d\d)(\d\d)(\d\d)(\d\d)(?:\.(\d{0,5}[1-9]))?Z$/;
  const found = pattern.exec(text);
  if (found === null) throw new DerError("a time that is not in the form of DER");
  let [year, month, day, hour, minute, second] = found.slice(1, 7).map(Number);
  if (short) year += year < 50 ? 2000 : 1900;
  const micro = Number((found[7] ?? "").padEnd(6, "0"));
  const micros = utcMicros(year, month, day, hour, minute, second, micro);
  if (micros === null) throw new DerError("a time that does not exist");
  return micros;
}

/** The one element of this encoding wrapped in another tag (short contents only need one byte). */
export function wrapped(tag: number, content: Uint8Array): Uint8Array {
  const size = content.length;
  const length = size < 0x80 ? [size] : size < 0x100 ? [0x81, size] : size < 0x10000
    ? [0x82, size >> 8, size & 0xff]
    : [0x83, size >> 16, (size >> 8) & 0xff, size & 0xff];
  const out = new Uint8Array(1 + length.length + size);
  out.set([tag, ...length]);
  out.set(content, 1 + length.length);
  return out;
}

export const equalElements = (one: Element, other: Element): boolean => same(one.raw, other.raw);
