// The seal statement: the one small document that is signed (docs/format.md, Seal statement).

import * as limits from "../limits.ts";
import { type Moment, parseMoment } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { inAscii, unhex } from "../text.ts";
import { isObject, type JsonObject, type JsonValue, parseCanonical } from "./canonical.ts";

export const FORMAT_VERSION = 1;
export const ENTRY_KINDS = ["file", "record", "finding"] as const;
export type EntryKind = (typeof ENTRY_KINDS)[number];
export const OUTCOMES = ["pass", "query", "fail", "not determinable", "not applicable"] as const;
const RELATIONS = ["supplement", "correction", "description"];
const REFERENCE = /^[A-Za-z0-9](?:[A-Za-z0-9.-]{0,62}[A-Za-z0-9])?$/;

export interface Previous {
  statement: string;
  relation: string;
  reason: string;
}

/** What the sealer signs. */
export interface SealStatement {
  day: string;
  entries: Record<EntryKind, number>;
  chainHead: Uint8Array;
  treeRoot: Uint8Array;
  pinned: Map<string, Uint8Array>;
  findings: Record<string, number>;
  ruleSetEntry: number | null;
  claimedTime: Moment;
  signingCertificate: Uint8Array;
  timeStampRequired: boolean;
  previous: Previous | null;
  versions: Record<string, string>;
}

export const entryCount = ({ entries }: SealStatement): number =>
  entries.file + entries.record + entries.finding;

/** The kind of the entry at a position from 0: files, then records, then findings. */
export function kindAt({ entries }: SealStatement, number: number): EntryKind {
  if (number < entries.file) return "file";
  return number < entries.file + entries.record ? "record" : "finding";
}

/** Read a seal statement strictly. Throws a Refusal for anything but exactly these members. */
export function parseStatement(data: Uint8Array, path: string): SealStatement {
  const reader = new Members(parseCanonical(data, path), path, "the seal statement");
  if (reader.text("type") !== "seal") throw reader.wrong("type", '"seal"');
  const version = reader.integer("version");
  if (version !== FORMAT_VERSION) {
    throw new Refusal(
      `this statement is of format version ${version}, which this evidpack does not know`,
      {
        path,
        expected: `version ${FORMAT_VERSION}`,
        observed: `version ${version}`,
        hint: "Verify it with a reader that knows that version.",
      },
    );
  }
  const statement: SealStatement = {
    day: requireReference(reader.text("day"), path),
    entries: reader.counts("entries", ENTRY_KINDS) as Record<EntryKind, number>,
    chainHead: reader.digest("chain_head"),
    treeRoot: reader.digest("tree_root"),
    pinned: reader.digests("pinned"),
    findings: reader.counts("findings", OUTCOMES),
    ruleSetEntry: reader.optionalInteger("rule_set_entry"),
    claimedTime: reader.time("claimed_time"),
    signingCertificate: reader.digest("signing_certificate"),
    timeStampRequired: reader.choice("time_stamp", ["required", "none"]) === "required",
    previous: parsePrevious(reader, path),
    versions: reader.texts("versions"),
  };
  reader.finish();
  requireConsistent(statement, path);
  return statement;
}

function requireReference(reference: string, path: string): string {
  if (REFERENCE.test(reference) && !reference.includes("..")) return reference;
  throw new Refusal("the day reference cannot name a folder", {
    path,
    expected: "1 to 64 letters, digits, hyphens or single dots, none of them at the ends",
    observed: inAscii(reference.slice(0, 120)),
  });
}

function parsePrevious(reader: Members, path: string): Previous | null {
  const value = reader.take("previous");
  if (value === null) return null;
  const inner = new Members(value, path, "previous");
  inner.digest("statement");
  const previous = {
    statement: (value as JsonObject).statement as string,
    relation: inner.choice("relation", RELATIONS),
    reason: inner.text("reason"),
  };
  inner.finish();
  return previous;
}

/** The counts must agree with each other, whatever the ledger turns out to hold. */
function requireConsistent(statement: SealStatement, path: string): void {
  const count = entryCount(statement);
  if (count < 1 || count > limits.MAX_ENTRIES) {
    throw new Refusal("the number of entries is out of bounds", {
      path, expected: `1 to ${limits.MAX_ENTRIES}`, observed: String(count),
    });
  }
  const findings = Object.values(statement.findings).reduce((sum, one) => sum + one, 0);
  if (findings !== statement.entries.finding) {
    throw new Refusal("the findings by outcome do not add up to the number of finding entries", {
      path, expected: String(statement.entries.finding), observed: String(findings),
    });
  }
  const entry = statement.ruleSetEntry;
  if (entry !== null && (entry < 0 || entry >= statement.entries.file)) {
    throw new Refusal("the rule set's entry is not a file entry", {
      path, expected: `0 to ${statement.entries.file - 1}`, observed: String(entry),
    });
  }
}

/** The members of one JSON object, each taken once, with a clear refusal for each wrong shape. */
class Members {
  readonly #left: Map<string, JsonValue>;

  constructor(value: JsonValue, private readonly path: string, private readonly where: string) {
    if (!isObject(value)) throw new Refusal(`${where} is not a JSON object`, { path });
    this.#left = new Map(Object.entries(value));
  }

  take(name: string): JsonValue {
    const value = this.#left.get(name);
    if (value === undefined) throw new Refusal(`${this.where} lacks "${name}"`, { path: this.path });
    this.#left.delete(name);
    return value;
  }

  finish(): void {
    if (!this.#left.size) return;
    throw new Refusal(`${this.where} has members that this format does not know`, {
      path: this.path,
      expected: "none beside those of the format",
      observed: [...this.#left.keys()].sort().join(", ").slice(0, 200),
    });
  }

  wrong(name: string, expected: string): Refusal {
    return new Refusal(`"${name}" of ${this.where} is not of the right form`, {
      path: this.path, expected, observed: "something else",
    });
  }

  text(name: string): string {
    const value = this.take(name);
    if (typeof value !== "string") throw this.wrong(name, "a text");
    return value;
  }

  integer(name: string): number {
    const value = this.take(name);
    if (!Number.isInteger(value)) throw this.wrong(name, "a whole number");
    return value as number;
  }

  optionalInteger(name: string): number | null {
    if (this.#left.get(name) !== null) return this.integer(name);
    this.take(name);
    return null;
  }

  choice(name: string, choices: readonly string[]): string {
    const value = this.text(name);
    if (!choices.includes(value)) throw this.wrong(name, choices.join(" or "));
    return value;
  }

  digest(name: string): Uint8Array {
    const value = unhex(this.text(name));
    if (value === null || value.length !== 32) {
      throw this.wrong(name, "64 lower-case hexadecimal digits");
    }
    return value;
  }

  time(name: string): Moment {
    const text = this.text(name);
    const moment = parseMoment(text);
    if (moment === "form") throw this.wrong(name, "an RFC 3339 time with an offset");
    if (moment === "absent") throw this.wrong(name, "an RFC 3339 time that exists");
    return moment;
  }

  counts(name: string, names: readonly string[]): Record<string, number> {
    const inner = new Members(this.take(name), this.path, `"${name}"`);
    const counts = Object.fromEntries(names.map((member) => [member, inner.integer(member)]));
    inner.finish();
    if (Object.values(counts).some((count) => count < 0)) {
      throw this.wrong(name, "no negative number");
    }
    return counts;
  }

  digests(name: string): Map<string, Uint8Array> {
    const inner = new Members(this.take(name), this.path, `"${name}"`);
    return new Map([...inner.#left.keys()].map((member) => [member, inner.digest(member)]));
  }

  texts(name: string): Record<string, string> {
    const inner = new Members(this.take(name), this.path, `"${name}"`);
    return Object.fromEntries([...inner.#left.keys()].map((member) => [member, inner.text(member)]));
  }
}
