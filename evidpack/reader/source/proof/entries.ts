// A ledger entry: the names of its fields in the open, their values behind salted commitments.

import { Refusal } from "../refusal.ts";
import { compareText, hex, inAscii, utf8 } from "../text.ts";
import { canonicalText, isObject, type JsonObject, type JsonValue, parseCanonical } from "./canonical.ts";
import { type Digester, KEY_BYTES } from "./digests.ts";
import { ENTRY_KINDS, type EntryKind } from "./statement.ts";

export interface Entry {
  kind: EntryKind;
  fields: JsonObject;
}

/** One line of the openings: the entry's key (32 bytes) and its values. */
export interface Opening {
  key: Uint8Array;
  values: JsonObject;
}

/** The line of one entry: canonical JSON of its kind and commitments, without line feed. */
export function entryLine(
  digester: Digester, kind: EntryKind, opening: Opening,
): { line: string; fields: JsonObject } {
  const salt = digester.salter(opening.key);
  const fields: JsonObject = Object.create(null);
  for (const name of Object.keys(opening.values)) {
    const committed = canonicalText([name, opening.values[name]]);
    fields[name] = hex(digester.commitment(salt(utf8(name)), committed));
  }
  return { line: canonicalText({ fields, kind }), fields };
}

/** Read one line of the ledger strictly; `number` is the entry's, from 0. */
export function parseEntry(line: Uint8Array, path: string, number: number): Entry {
  const place = { path, line: number + 1 };
  const value = parseCanonical(line, path, number + 1);
  if (!isObject(value) || Object.keys(value).join() !== "fields,kind") {
    throw new Refusal(`entry ${number} is not an entry`, {
      ...place,
      expected: 'an object of "fields" and "kind", and nothing else',
      observed: shape(value),
    });
  }
  const { fields, kind } = value;
  if (!ENTRY_KINDS.includes(kind as EntryKind)) {
    throw new Refusal(`entry ${number} is of unknown kind`, {
      ...place, expected: ENTRY_KINDS.join(", "), observed: shape(kind),
    });
  }
  if (!isObject(fields) || !Object.keys(fields).length) {
    throw new Refusal(`entry ${number} has no fields`, {
      ...place, expected: "an object of at least one name and its commitment", observed: shape(fields),
    });
  }
  for (const name of Object.keys(fields)) {
    const commitment = fields[name];
    if (typeof commitment !== "string" || !/^[0-9a-f]{64}$/.test(commitment)) {
      throw new Refusal(`field "${name}" of entry ${number} is not a commitment`, {
        ...place, expected: "64 lower-case hexadecimal digits", observed: shape(commitment),
      });
    }
  }
  return { kind: kind as EntryKind, fields };
}

/** Read one line of the openings strictly. */
export function parseOpening(line: Uint8Array, path: string, number: number): Opening {
  const place = { path, line: number + 1 };
  const value = parseCanonical(line, path, number + 1);
  if (!isObject(value) || Object.keys(value).join() !== "key,values") {
    throw new Refusal('an opening is {"key", "values"}', place);
  }
  const { key, values } = value;
  if (!isObject(values) || typeof key !== "string" || key.length !== 2 * KEY_BYTES) {
    throw new Refusal("an opening holds a 32-byte key in hex and values", place);
  }
  if (!/^[0-9a-fA-F]*$/.test(key)) throw new Refusal("an opening's key is not hex", place);
  const bytes = Uint8Array.from(key.match(/../g)!, (pair) => parseInt(pair, 16));
  return { key: bytes, values };
}

/** Every commitment against its opening: rebuild the line from the opening and compare. */
export function requireSameEntry(
  digester: Digester, entry: Entry, line: string, opening: Opening, path: string, number: number,
): void {
  if (!Object.keys(opening.values).length) {
    throw new Refusal("an entry has no fields", { path, expected: "at least one", observed: "none" });
  }
  const rebuilt = entryLine(digester, entry.kind, opening);
  if (rebuilt.line === line) return;
  const names = new Set([...Object.keys(entry.fields), ...Object.keys(rebuilt.fields)]);
  const wrong = [...names]
    .filter((name) => entry.fields[name] !== rebuilt.fields[name])
    .sort(compareText);
  throw new Refusal(`entry ${number} (${entry.kind}) does not open as it was committed`, {
    path,
    line: number + 1,
    expected: "values that give the sealed commitments",
    observed: `others for ${wrong.join(", ")}`.slice(0, 200),
  });
}

function shape(value: JsonValue): string {
  if (isObject(value)) return `an object of ${Object.keys(value).join(", ").slice(0, 200) || "nothing"}`;
  if (typeof value === "string") return inAscii(value.slice(0, 80));
  return Array.isArray(value) ? "list" : value === null ? "null" : typeof value;
}
