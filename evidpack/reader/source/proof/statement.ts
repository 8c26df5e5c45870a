// The seal statement: the one small document that is signed (docs/format.md, Seal statement).

import * as limits from "../limits.ts";
import type { Moment } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { hex, inAscii } from "../text.ts";
import { parseCanonical } from "./canonical.ts";
import { Members } from "./members.ts";

export const FORMAT_VERSION = 1;
export const NEWER_READER = "Verify it with a reader that knows that version.";
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
  requireType(reader, "seal");
  const statement: SealStatement = {
    day: requireReference(reader.text("day"), path),
    entries: reader.counts("entries", ENTRY_KINDS) as Record<EntryKind, number>,
    chainHead: reader.digest("chain_head"),
    treeRoot: reader.digest("tree_root"),
    pinned: reader.digests("pinned"),
    findings: reader.counts("findings", OUTCOMES),
    ruleSetEntry: reader.optional("rule_set_entry", reader.integer),
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

/** The type and the one version that is known. */
export function requireType(reader: Members, type: string): void {
  if (reader.text("type") !== type) throw reader.wrong("type", `"${type}"`);
  const version = reader.integer("version");
  if (version === FORMAT_VERSION) return;
  throw new Refusal(
    `this statement is of format version ${version}, which this evidpack does not know`,
    {
      path: reader.path,
      expected: `version ${FORMAT_VERSION}`,
      observed: `version ${version}`,
      hint: NEWER_READER,
    },
  );
}

export function requireReference(reference: string, path: string): string {
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
  const previous = {
    statement: hex(inner.digest("statement")),
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
