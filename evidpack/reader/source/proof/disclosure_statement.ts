// The disclosure statement: what the discloser of a pack signs (docs/format.md, Disclosure
// statement).

import { MAX_DISCLOSURE_STATEMENT_BYTES } from "../limits.ts";
import type { Moment } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { characters, isBlank } from "../text.ts";
import { BECAME, type Became, MAX_EXHIBIT } from "./accounting.ts";
import { parseCanonical } from "./canonical.ts";
import { Members } from "./members.ts";
import { requireReference, requireType } from "./statement.ts";

const MAX_ISSUE = 100_000;
const MAX_TEXT_CHARACTERS = 500;
const PACK = /^pack-([1-9][0-9]{0,5})-[0-9a-f]{12}$/;

/** A full verification of the bundle before this pack was made, as the discloser states it. */
export interface EarlierVerification {
  report: Uint8Array;
  verdict: string;
  at: Moment;
}

export interface DisclosureStatement {
  pack: string;
  day: string;
  origin: Uint8Array;
  case: string;
  recipient: string;
  issue: number;
  previous: Uint8Array | null;
  decidedBy: string;
  decidedAt: Moment;
  accounting: Record<Became, number>;
  exhibits: number;
  pinned: Map<string, Uint8Array>;
  releaseLog: Uint8Array | null;
  verification: EarlierVerification | null;
  claimedTime: Moment;
  signingCertificate: Uint8Array;
  timeStampRequired: boolean;
  versions: Record<string, string>;
}

/** Read a disclosure statement strictly. Throws a Refusal for anything but exactly these members. */
export function parseDisclosureStatement(data: Uint8Array, path: string): DisclosureStatement {
  if (data.length > MAX_DISCLOSURE_STATEMENT_BYTES) {
    throw new Refusal("the disclosure statement is too large", {
      path, expected: `at most ${MAX_DISCLOSURE_STATEMENT_BYTES} bytes`, observed: `${data.length} bytes`,
    });
  }
  const reader = new Members(parseCanonical(data, path), path, "the disclosure statement");
  requireType(reader, "disclosure");
  const statement: DisclosureStatement = {
    pack: reader.text("pack"),
    day: requireReference(reader.text("day"), path),
    origin: reader.digest("origin"),
    case: shortText(reader, "case"),
    recipient: shortText(reader, "recipient"),
    issue: reader.integer("issue"),
    previous: reader.optional("previous", reader.digest),
    decidedBy: shortText(reader, "decided_by"),
    decidedAt: reader.time("decided_at"),
    accounting: reader.counts("accounting", BECAME) as Record<Became, number>,
    exhibits: reader.integer("exhibits"),
    pinned: reader.digests("pinned"),
    releaseLog: reader.optional("release_log", reader.digest),
    verification: parseVerification(reader),
    claimedTime: reader.time("claimed_time"),
    signingCertificate: reader.digest("signing_certificate"),
    timeStampRequired: reader.choice("time_stamp", ["required", "none"]) === "required",
    versions: reader.texts("versions"),
  };
  reader.finish();
  requireConsistent(statement, reader);
  return statement;
}

function shortText(reader: Members, name: string): string {
  const value = reader.text(name);
  if (isBlank(value) || characters(value) > MAX_TEXT_CHARACTERS) {
    throw reader.wrong(name, `1 to ${MAX_TEXT_CHARACTERS} characters`);
  }
  return value;
}

function parseVerification(reader: Members): EarlierVerification | null {
  const value = reader.take("verification");
  if (value === null) return null;
  const inner = new Members(value, reader.path, "verification");
  const found = { report: inner.digest("report"), verdict: inner.text("verdict"), at: inner.time("at") };
  inner.finish();
  return found;
}

function requireConsistent(statement: DisclosureStatement, reader: Members): void {
  const named = PACK.exec(statement.pack);
  if (named === null || Number(named[1]) !== statement.issue) {
    throw reader.wrong("pack", "pack-, the issue number, and 12 hexadecimal digits");
  }
  if (statement.issue < 1 || statement.issue > MAX_ISSUE) {
    throw reader.wrong("issue", `a number from 1 to ${MAX_ISSUE}`);
  }
  if ((statement.previous === null) !== (statement.issue === 1)) {
    throw reader.wrong("previous", "the issue before, and null for issue 1 alone");
  }
  if (statement.exhibits < 0 || statement.exhibits > MAX_EXHIBIT) {
    throw reader.wrong("exhibits", `a number from 0 to ${MAX_EXHIBIT}`);
  }
}
