// The files of a pack's proof, each read strictly (docs/format.md, Pack).

import { Refusal } from "../refusal.ts";
import { begin, bytesInAscii, textOf, unhex } from "../text.ts";
import { type JsonValue, parseCanonical } from "./canonical.ts";
import { Members } from "./members.ts";

const LINE_FEED = 0x0a;
const SHOWN_BYTES = 80;
const LEAF_LINE = /^[0-9a-f]{64}$/;
const TILE_LINE = /^(?:open [0-9a-f]{32}|closed [0-9a-f]{64})$/;
const SALT = /^[0-9a-f]{32}$/;

/** A field's salt (16 bytes) and value. */
export interface OpenedField {
  salt: Uint8Array;
  value: JsonValue;
}

/** What is opened of one entry, by name of field. */
export interface PackOpening {
  entry: number;
  fields: Map<string, OpenedField>;
}

/** Leaf digests of 32 bytes, one behind the other. */
export class Leaves {
  constructor(private readonly bytes: Uint8Array) {}

  get length(): number {
    return this.bytes.length / 32;
  }

  at(entry: number): Uint8Array {
    return this.bytes.subarray(32 * entry, 32 * entry + 32);
  }
}

/** One line of a pack's openings; `number` is the line's, from 1. Throws a Refusal with the line. */
export function parsePackOpening(line: Uint8Array, path: string, number: number): PackOpening {
  return onLine(number, () => {
    const members = new Members(parseCanonical(line, path, number), path, "the opening");
    const entry = members.integer("entry");
    const raw = new Members(members.take("fields"), path, "the opened fields");
    members.finish();
    const fields = new Map(raw.names.map((name) => [name, parseField(raw.take(name), name, path)]));
    if (!fields.size) throw members.wrong("fields", "at least one opened field");
    return { entry, fields };
  });
}

function parseField(value: JsonValue, name: string, path: string): OpenedField {
  const inner = new Members(value, path, `field "${begin(name, 100)}"`);
  const salt = inner.text("salt");
  if (!SALT.test(salt)) throw inner.wrong("salt", "32 lower-case hexadecimal digits");
  const field = { salt: unhex(salt)!, value: inner.take("value") };
  inner.finish();
  return field;
}

/** Every leaf digest in order, one a line. */
export function parseLeaves(data: Uint8Array, path: string): Leaves {
  const bytes = new Uint8Array(32 * Math.ceil(data.length / 65));
  let count = 0;
  for (const line of matchingLines(data, LEAF_LINE, path, "64 lower-case hexadecimal digits")) {
    bytes.set(unhex(line)!, 32 * count++);
  }
  return new Leaves(bytes.subarray(0, 32 * count));
}

/** Of each tile, by number: its salt (16 bytes) where open, its leaf digest where closed. */
export interface TileOpenings {
  salts: Map<number, Uint8Array>;
  closed: Map<number, Uint8Array>;
}

export function parseTiles(data: Uint8Array, path: string): TileOpenings {
  const openings: TileOpenings = { salts: new Map(), closed: new Map() };
  const what = '"open" and 32 or "closed" and 64 lower-case hexadecimal digits';
  let tile = 0;
  for (const line of matchingLines(data, TILE_LINE, path, what)) {
    const [word, digits] = line.split(" ");
    (word === "open" ? openings.salts : openings.closed).set(tile++, unhex(digits)!);
  }
  return openings;
}

function* matchingLines(
  data: Uint8Array, pattern: RegExp, path: string, what: string,
): Generator<string, void, void> {
  requireLastLineFeed(data, path);
  let number = 0;
  for (let at = 0; at < data.length; number++) {
    const end = data.indexOf(LINE_FEED, at);
    const line = data.subarray(at, end);
    const text = textOf(line);
    if (text === null || !pattern.test(text)) {
      throw new Refusal("a line is not of the form", {
        path, line: number + 1, expected: what, observed: bytesInAscii(line.subarray(0, SHOWN_BYTES)),
      });
    }
    yield text;
    at = end + 1;
  }
}

function requireLastLineFeed(data: Uint8Array, path: string): void {
  if (!data.length || data[data.length - 1] === LINE_FEED) return;
  let lines = 1;
  for (const byte of data) if (byte === LINE_FEED) lines++;
  throw new Refusal("the last line has no line feed", { path, line: lines });
}

/** What was blacked out in a still, why, by whom and when; boxes and polygons in pixels. */
export interface RedactionRecord {
  entry: number;
  exhibit: number;
  boxes: number[][];
  polygons: number[][][];
  tiles: number[];
  reason: string;
  by: string;
  at: string;
}

/** One redaction record; `number` is the line's, from 1. Throws a Refusal with the line. */
export function parseRedaction(line: Uint8Array, path: string, number: number): RedactionRecord {
  return onLine(number, () => {
    const members = new Members(parseCanonical(line, path, number), path, "the redaction record");
    const found: RedactionRecord = {
      entry: members.integer("entry"),
      exhibit: members.integer("exhibit"),
      boxes: wholeNumbers(members, "boxes", 2) as number[][],
      polygons: wholeNumbers(members, "polygons", 3) as number[][][],
      tiles: wholeNumbers(members, "tiles", 1) as number[],
      reason: members.text("reason"),
      by: members.text("by"),
      at: members.text("at"),
    };
    members.finish();
    return found;
  });
}

/** Whole numbers in lists nested so deep. */
function wholeNumbers(members: Members, name: string, depth: number): JsonValue {
  const value = members.take(name);
  const right = (one: JsonValue, left: number): boolean =>
    left ? Array.isArray(one) && one.every((inner) => right(inner, left - 1)) : Number.isSafeInteger(one);
  if (!right(value, depth)) throw members.wrong(name, `whole numbers in lists, ${depth} deep`);
  return value;
}

function onLine<T>(number: number, read: () => T): T {
  try {
    return read();
  } catch (error) {
    if (error instanceof Refusal) error.line = number;
    throw error;
  }
}
