// Reading certificate revocation lists (RFC 5280, 5.1) completely: a DER file, or all of a PEM file.

import { MAX_PEM_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { type AlgorithmIdentifier, readAlgorithm } from "./algorithm_identifiers.ts";
import * as der from "./der.ts";
import { type Extension, readList } from "./extensions.ts";
import { type Name, quotedName, readName } from "./names.ts";
import { pemBlocks } from "./pem.ts";
import { readScope } from "./revocation_scope.ts";

export const ISSUING_POINT = "2.5.29.28";
const DELTA = "2.5.29.27";
const REASON = "2.5.29.21";
const INVALIDITY = "2.5.29.24";
const ENUMERATED = 0x0a;
// RFC 5280, 5.3.1; 7 is not used.
const REASONS = [
  "unspecified", "keyCompromise", "cACompromise", "affiliationChanged", "superseded",
  "cessationOfOperation", "certificateHold", null, "removeFromCRL", "privilegeWithdrawn", "aACompromise",
];

export interface Revoked {
  /** The earlier of the dates of revocation and of invalidity, microseconds since 1970. */
  since: number;
  reason: string;
}

export interface RevocationList {
  raw: Uint8Array;
  body: Uint8Array;
  algorithm: AlgorithmIdentifier;
  algorithmsAgree: boolean;
  issuer: Name;
  thisUpdate: number;
  nextUpdate: number | null;
  entries: Map<bigint, Revoked>;
  /** Whether an entry has a critical extension that is not understood here. */
  strangeEntries: boolean;
  extensions: Extension[];
  signature: Uint8Array;
}

/** All lists in these bytes. Throws a Refusal: too large, none inside, or one that cannot be read. */
export function loadRevocationLists(data: Uint8Array, path: string): RevocationList[] {
  if (data.length > MAX_PEM_BYTES) {
    throw new Refusal("the revocation list is too large", {
      path, expected: `at most ${MAX_PEM_BYTES} bytes`, observed: `${data.length} bytes`,
    });
  }
  const blocks = data[0] === der.SEQUENCE ? [data] : pemBlocks(data, "X509 CRL", path);
  return blocks.map((block) => readRevocationList(block, path));
}

export function readRevocationList(data: Uint8Array, path: string | null): RevocationList {
  let list: RevocationList;
  try {
    list = read(data);
  } catch (error) {
    if (!(error instanceof der.DerError)) throw error;
    throw new Refusal("a revocation list cannot be read", {
      path,
      expected: "a CRL by RFC 5280, DER or PEM",
      observed: error.message,
      hint: "ask the authority for its revocation list again",
    });
  }
  if (list.extensions.some(({ kind }) => kind === DELTA)) {
    const issuer = quotedName(list.issuer);
    throw new Refusal("a delta revocation list cannot be used", {
      path,
      expected: "a complete list",
      observed: `changes to a list of ${issuer} (RFC 5280 §5.2.4)`,
      hint: `ask ${issuer} for its complete revocation list`,
    });
  }
  return list;
}

function read(data: Uint8Array): RevocationList {
  const whole = new der.Members(der.only(data));
  const body = whole.take(der.SEQUENCE);
  const outer = whole.take(der.SEQUENCE);
  const signature = der.octetsOf(whole.take());
  whole.end();
  const members = new der.Members(body);
  const version = members.optional(der.INTEGER);
  if (version !== null && der.integer(version) !== 1n) throw new der.DerError("a CRL of another version");
  const inner = members.take(der.SEQUENCE);
  const issuer = readName(members.take());
  const thisUpdate = der.time(members.take());
  const next = members.optional(der.UTC_TIME) ?? members.optional(der.GENERALIZED_TIME);
  const revoked = members.optional(der.SEQUENCE);
  const held = members.optional(der.context(0));
  members.end();
  const extensions = held === null ? [] : readList(der.only(held.content));
  for (const { kind, value } of extensions) if (kind === ISSUING_POINT) readScope(value);
  return {
    raw: data, body: body.raw, algorithm: readAlgorithm(inner, true),
    algorithmsAgree: der.equalElements(inner, outer), issuer, thisUpdate,
    nextUpdate: next === null ? null : der.time(next), ...readEntries(revoked), extensions, signature,
  };
}

function readEntries(
  holder: der.Element | null,
): { entries: Map<bigint, Revoked>; strangeEntries: boolean } {
  const entries = new Map<bigint, Revoked>();
  let strangeEntries = false;
  for (const element of holder === null ? [] : der.split(holder.content)) {
    const members = new der.Members(element);
    const serial = der.integer(members.take());
    let since = der.time(members.take());
    let reason = "no reason given";
    const held = members.optional(der.SEQUENCE);
    members.end();
    for (const { kind, critical, value } of held === null ? [] : readList(held)) {
      if (kind === REASON) reason = readReason(der.only(value));
      else if (kind === INVALIDITY) since = Math.min(since, der.time(der.only(value)));
      else if (critical) strangeEntries = true;
    }
    // Where a number stands twice, the library that the command line uses takes the first.
    if (!entries.has(serial)) entries.set(serial, { since, reason });
  }
  return { entries, strangeEntries };
}

function readReason(element: der.Element): string {
  const reason = element.tag === ENUMERATED && element.content.length === 1 ? REASONS[element.content[0]] : null;
  if (reason == null) throw new der.DerError("a reason that RFC 5280 does not know");
  return reason;
}
