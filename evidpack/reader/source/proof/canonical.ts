// JSON that can be written in one way only (RFC 8785), and a parser that accepts no more.

import * as limits from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { bytesInAscii, hex, same, textOf, utf8 } from "../text.ts";
import { notExact, parseStrictly, tooDeep } from "./json_text.ts";

export type JsonValue =
  | null | boolean | number | string | JsonValue[] | { [name: string]: JsonValue };
export type JsonObject = { [name: string]: JsonValue };

const EXCERPT = 40;

export const isObject = (value: JsonValue | undefined): value is JsonObject =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** A member of an object, never one that JavaScript put there itself. */
export const own = (value: JsonObject, name: string): JsonValue | undefined =>
  Object.hasOwn(value, name) ? value[name] : undefined;

/** The one JSON text of a value. JavaScript writes numbers and texts as RFC 8785 has them. */
export function canonicalText(value: JsonValue): string {
  if (Array.isArray(value)) return `[${value.map(canonicalText).join(",")}]`;
  if (!isObject(value)) return JSON.stringify(value);
  // The order of RFC 8785, 3.2.3, is that of UTF-16 code units: JavaScript's own.
  const names = Object.keys(value).sort();
  return `{${names.map((name) => `${JSON.stringify(name)}:${canonicalText(value[name])}`).join(",")}}`;
}

/** Read one JSON text that must be in canonical form. Throws a Refusal otherwise. */
export function parseCanonical(data: Uint8Array, path: string, line: number | null = null): JsonValue {
  const text = requireText(data, path, line);
  let value: JsonValue;
  try {
    value = JSON.parse(text) as JsonValue;
  } catch {
    return parseStrictly(text, path, line);
  }
  requireWithinLimits(value, 0, { text, path, line });
  const written = canonicalText(value);
  if (written === text) return value;
  parseStrictly(text, path, line);
  throw notCanonical(utf8(written), data, path, line);
}

function notCanonical(
  written: Uint8Array, data: Uint8Array, path: string, line: number | null,
): Refusal {
  let offset = 0;
  while (offset < Math.min(written.length, data.length) && written[offset] === data[offset]) {
    offset++;
  }
  return new Refusal("this JSON is not in the canonical form of RFC 8785", {
    path,
    line,
    offset,
    expected: `${bytesInAscii(written.subarray(offset, offset + EXCERPT))} at byte ${offset}`,
    observed: bytesInAscii(data.subarray(offset, offset + EXCERPT)),
  });
}

function requireText(data: Uint8Array, path: string, line: number | null): string {
  if (same(data.subarray(0, 3), new Uint8Array([0xef, 0xbb, 0xbf]))) {
    throw new Refusal("the text begins with a byte order mark", {
      path, line, expected: "UTF-8 without one", observed: "EF BB BF at byte 0",
    });
  }
  const text = textOf(data);
  if (text === null) {
    throw new Refusal("the text is not UTF-8", {
      path, line, expected: "UTF-8", observed: `bytes ${hex(data.subarray(0, EXCERPT), " ")}`,
    });
  }
  return text;
}

/** Depth, numbers that are not exact everywhere, and lone surrogates. */
function requireWithinLimits(value: JsonValue, depth: number, source: Source): void {
  if (typeof value === "string") return requireWhole(value, source);
  if (typeof value === "number") return requireExact(value, source);
  if (typeof value !== "object" || value === null) return;
  if (depth === limits.MAX_JSON_DEPTH) throw tooDeep(source.path, source.line);
  if (Array.isArray(value)) {
    for (const member of value) requireWithinLimits(member, depth + 1, source);
    return;
  }
  for (const name of Object.keys(value)) {
    requireWhole(name, source);
    requireWithinLimits(value[name], depth + 1, source);
  }
}

/** The text that a value was read from, and where it stands. */
interface Source {
  text: string;
  path: string;
  line: number | null;
}

function requireWhole(text: string, { path, line }: Source): void {
  if (/\p{Cs}/u.test(text)) {
    throw new Refusal("a text holds a lone surrogate", {
      path, line, expected: "characters that UTF-8 can carry", observed: "half of a UTF-16 pair",
    });
  }
}

function requireExact(value: number, { text, path, line }: Source): void {
  // Only the text tells a whole number from one with an exponent once both are infinite.
  if (!Number.isFinite(value)) parseStrictly(text, path, line);
  // From 10^21 on, RFC 8785 writes an exponent, so that nobody takes all digits for exact.
  if (Number.isInteger(value) && Math.abs(value) > limits.MAX_SAFE_INTEGER && Math.abs(value) < 1e21) {
    throw notExact(String(value), path, line);
  }
}
