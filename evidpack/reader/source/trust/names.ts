// The names in certificates: as RFC 4514 writes them, and quoted for use in a sentence.

import { quotedText } from "../text.ts";
import * as der from "./der.ts";

const COMMON_NAME = "2.5.4.3";
// RFC 4514, section 3.
const SHORT_NAMES: Record<string, string> = {
  [COMMON_NAME]: "CN",
  "2.5.4.7": "L",
  "2.5.4.8": "ST",
  "2.5.4.10": "O",
  "2.5.4.11": "OU",
  "2.5.4.6": "C",
  "2.5.4.9": "STREET",
  "0.9.2342.19200300.100.1.25": "DC",
  "0.9.2342.19200300.100.1.1": "UID",
};

interface Attribute {
  kind: string;
  value: string;
}

/** A distinguished name; `raw` is its own encoding, by which names are compared. */
export interface Name {
  raw: Uint8Array;
  parts: Attribute[][];
}

export function readName(element: der.Element): Name {
  const parts = new der.Members(element);
  const found: Attribute[][] = [];
  for (const part of der.split(element.content)) {
    parts.take(der.SET);
    found.push(der.setOf(part).map(readAttribute));
  }
  return { raw: element.raw, parts: found };
}

function readAttribute(element: der.Element): Attribute {
  const members = new der.Members(element);
  const kind = der.identifier(members.take());
  const value = members.take();
  members.end();
  return { kind, value: textOf(value) };
}

function textOf(value: der.Element): string {
  const { tag, content } = value;
  if (tag === 0x1e || tag === 0x1c) return wideText(content, tag === 0x1e ? 2 : 4);
  if (tag === der.UTF8_STRING) {
    try {
      return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(content);
    } catch {
      throw new der.DerError("a name that is not UTF-8");
    }
  }
  // PrintableString, T61String, IA5String, VisibleString and the like: one byte a character.
  return Array.from(content, (byte) => String.fromCharCode(byte)).join("");
}

function wideText(content: Uint8Array, width: number): string {
  if (content.length % width) throw new der.DerError("a name of no possible length");
  let out = "";
  for (let at = 0; at < content.length; at += width) {
    let point = 0;
    for (let i = 0; i < width; i++) point = point * 256 + content[at + i];
    if (point > 0x10ffff) throw new der.DerError("a name with a character that does not exist");
    out += String.fromCodePoint(point);
  }
  return out;
}

/** The whole name as RFC 4514 writes it, the last part first. */
export function rfc4514(name: Name): string {
  const shown = ({ kind, value }: Attribute): string => `${SHORT_NAMES[kind] ?? kind}=${escaped(value)}`;
  return name.parts.slice().reverse().map((part) => part.map(shown).join("+")).join(",");
}

function escaped(value: string): string {
  if (!value) return "";
  let out = value.replace(/["+,;<>\\]/g, "\\$&").replace(/\0/g, "\\00");
  if (/^[# ]/.test(out)) out = "\\" + out;
  if (out.endsWith(" ")) out = out.slice(0, -1) + "\\ ";
  return out;
}

/** The common name, else the whole distinguished name, quoted and made safe to show. */
export function quotedName(name: Name): string {
  const common = name.parts.flat().filter(({ kind }) => kind === COMMON_NAME);
  return quotedText((common.length === 1 ? common[0].value : rfc4514(name)) || "(no name)");
}
