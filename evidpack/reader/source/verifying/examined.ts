// A file after the steps that need nothing but the file: what was found, and what is left to judge.

import type { Archive } from "../container/archive.ts";
import { MAX_SIGNATURE_BYTES, MAX_TOKEN_BYTES } from "../limits.ts";
import type { Moment } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { type Report, type Step, step } from "./report.ts";
import type { SignedDocument } from "./signed_document.ts";

export interface Examined {
  fileName: string;
  /** Size of the file that was given, encrypted or not. */
  size: number;
  kind: Report["kind"];
  /** Null where step 1 fails. */
  archive: Archive | null;
  statementSha256: string | null;
  originSha256: string | null;
  /** The sealer's statement, and in a pack the discloser's behind it. */
  documents: SignedDocument[];
  /** Steps 1 to 4. */
  before: Step[];
  /** Steps 8 and 9. */
  after: Step[];
}

/** A file of which step 1 fails: the other steps are named and not examined. */
export function stopped(fileName: string, size: number, failed: Step): Examined {
  const rest = (numbers: number[]): Step[] => numbers.map((number) => step(number, "not established", NOT_EXAMINED));
  return {
    fileName, size, kind: "unreadable", archive: null, statementSha256: null, originSha256: null,
    documents: [], before: [failed, ...rest([2, 3, 4])], after: rest([8, 9]),
  };
}

export const NOT_EXAMINED = "not examined: step 1 does not hold";

/** What a statement claims; nothing where it cannot be read. */
export interface Claims {
  claimedTime: Moment;
  signingCertificate: Uint8Array;
  timeStampRequired: boolean;
}

interface Names {
  statement: string;
  signature: string;
  token: string;
}

/** A statement with its signature and token out of the archive. */
export function documentOf(
  archive: Archive, whose: SignedDocument["whose"], statement: Uint8Array, names: Names,
  claims: Claims | null,
): SignedDocument {
  return {
    whose,
    statement,
    signature: optional(archive, names.signature, MAX_SIGNATURE_BYTES),
    token: tokenOf(optional(archive, names.token, MAX_TOKEN_BYTES), whose),
    statementName: names.statement,
    signatureName: names.signature,
    tokenName: names.token,
    claimedTime: claims?.claimedTime ?? null,
    signingCertificate: claims?.signingCertificate ?? null,
    timeStampRequired: claims?.timeStampRequired ?? false,
  };
}

/** As on the command line, an empty token of the sealer's counts as none. */
const tokenOf = (token: Uint8Array | null, whose: SignedDocument["whose"]): Uint8Array | null =>
  token?.length === 0 && whose === "sealer" ? null : token;

/** A small member's bytes, or null where it is missing or (a fault of step 2) damaged. */
function optional(archive: Archive, name: string, limit: number): Uint8Array | null {
  try {
    return archive.read(name, limit);
  } catch (error) {
    if (error instanceof Refusal) return null;
    throw error;
  }
}
