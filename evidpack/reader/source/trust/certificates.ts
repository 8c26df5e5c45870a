// Reading X.509 certificates (RFC 5280) completely, so that none fails half-way through a check.

import { MAX_CERTIFICATE_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { same } from "../text.ts";
import { type AlgorithmIdentifier, readAlgorithm } from "./algorithm_identifiers.ts";
import { isKnownAlgorithm } from "./algorithms.ts";
import * as der from "./der.ts";
import { type Extension, type Extensions, NO_EXTENSIONS, readExtensions } from "./extensions.ts";
import { type Key, readKey } from "./keys.ts";
import { type Name, quotedName, readName } from "./names.ts";

export interface Certificate {
  raw: Uint8Array;
  /** The part that is signed, as it is signed. */
  body: Uint8Array;
  serial: bigint;
  algorithm: AlgorithmIdentifier;
  /** Whether the algorithm beside the signature, which nothing covers, is the one that is signed. */
  algorithmsAgree: boolean;
  issuer: Name;
  subject: Name;
  /** First and last instant of validity, microseconds since 1970. */
  first: number;
  last: number;
  key: Key;
  extensions: Extensions;
  all: Extension[];
  signature: Uint8Array;
}

export const nameOf = (certificate: Certificate): string => quotedName(certificate.subject);
export const sameCertificate = (one: Certificate, other: Certificate): boolean =>
  same(one.raw, other.raw);

/** One certificate from exactly these bytes. Throws a Refusal. */
export function readCertificate(data: Uint8Array, path: string | null): Certificate {
  if (data.length > MAX_CERTIFICATE_BYTES) {
    throw new Refusal("a certificate is too large", {
      path,
      expected: `at most ${MAX_CERTIFICATE_BYTES} bytes`,
      observed: `${data.length} bytes`,
    });
  }
  try {
    return read(data);
  } catch (error) {
    if (!(error instanceof der.DerError)) throw error;
    throw new Refusal("a certificate cannot be read", {
      path,
      expected: "an X.509 version 3 certificate in DER",
      observed: error.message,
      hint: "ask the authority that issued it for a new copy",
    });
  }
}

function read(data: Uint8Array): Certificate {
  const whole = new der.Members(der.only(data));
  const body = whole.take(der.SEQUENCE);
  const outer = whole.take(der.SEQUENCE);
  const signature = der.octetsOf(whole.take());
  whole.end();
  if (!isKnownAlgorithm(readAlgorithm(outer, true))) {
    throw new der.DerError("a signature algorithm that is not known");
  }

  const members = new der.Members(body);
  requireVersion3(members.optional(der.context(0)));
  const serial = der.integer(members.take());
  if (serial <= 0n || serial >= 1n << 159n) throw new der.DerError("a serial number out of bounds");
  const inner = members.take(der.SEQUENCE);
  const issuer = readName(members.take());
  const [first, last] = readValidity(members.take());
  const subject = readName(members.take());
  const key = readKey(members.take(der.SEQUENCE));
  members.optional(der.contextPrimitive(1));
  members.optional(der.contextPrimitive(2));
  const held = members.optional(der.context(3));
  members.end();
  const { known, list } = held === null ? NO_EXTENSIONS : readExtensions(held);
  return {
    raw: data, body: body.raw, serial, algorithm: readAlgorithm(inner, true),
    algorithmsAgree: der.equalElements(inner, outer), issuer, subject,
    first, last, key, extensions: known, all: list, signature,
  };
}

function requireVersion3(held: der.Element | null): void {
  if (held === null) throw new der.DerError("X.509 version 1, not version 3");
  const version = der.integer(der.only(held.content));
  if (version !== 2n) throw new der.DerError(`X.509 version ${version + 1n}, not version 3`);
}

function readValidity(element: der.Element): [number, number] {
  const members = new der.Members(element);
  const first = certificateTime(members.take());
  const last = certificateTime(members.take());
  members.end();
  return [first, last];
}

/** RFC 5280, 4.1.2.5: UTCTime until 2049, GeneralizedTime after, never with a fraction. */
function certificateTime(element: der.Element): number {
  const micros = der.time(element);
  const late = micros >= Date.UTC(2050, 0) * 1000;
  if (micros % 1_000_000 || late !== (element.tag === der.GENERALIZED_TIME)) {
    throw new der.DerError("a time of validity in another form than RFC 5280 has it");
  }
  return micros;
}
