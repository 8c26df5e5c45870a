// RFC 3161 time stamps: the token, and what makes it acceptable.

import { MAX_TOKEN_BYTES } from "../limits.ts";
import { inUtc, type Moment, momentOf } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { hex, quotedText, same, textOf } from "../text.ts";
import { type AlgorithmIdentifier, readAlgorithm } from "./algorithm_identifiers.ts";
import { digestName } from "./algorithms.ts";
import type { Certificate } from "./certificates.ts";
import * as der from "./der.ts";
import { type Digest, digestOf } from "./keys.ts";
import { requireNothingOffPath, requirePath } from "./paths.ts";
import {
  decoding, intermediatesOf, readSignedData, requireMessage, type SignedMessage,
} from "./signed_data.ts";
import { requireNamedCertificate } from "./signing_certificates.ts";

const WHAT = "the time-stamp token";
const TOKEN_CONTENT = "1.2.840.113549.1.9.16.1.4";
const SIZES: Record<Digest, number> = { sha256: 32, sha384: 48, sha512: 64 };
const STATUSES = [
  "granted", "granted with modifications", "rejected", "waiting", "revocation warning", "revoked",
];

/** A token that was read but not yet checked. */
export interface Token {
  genTime: Moment;
  imprint: Uint8Array;
  digest: Digest;
  signed: SignedMessage;
}

/** Read a time-stamp response with its token (RFC 3161, 2.4.2) in the one accepted form. */
export async function parseToken(data: Uint8Array, path: string): Promise<Token> {
  if (data.length > MAX_TOKEN_BYTES) {
    throw new Refusal("the time-stamp file is too large", {
      path, expected: `at most ${MAX_TOKEN_BYTES} bytes`, observed: `${data.length} bytes`,
    });
  }
  const form = { what: WHAT, path, contentType: TOKEN_CONTENT, version: 3n };
  const response = decoding(form, () => readResponse(data));
  const info = requireGranted(response, path);
  const signed = readSignedData(info, form);
  const { content } = signed;
  if (content === null) throw wrong(path, "the time-stamp information inside", "none");
  const stamp = decoding(form, () => readStamp(content));
  await requireNamedCertificate(signed);
  return tokenOf(stamp, signed, path);
}

interface Response {
  status: bigint;
  texts: string[] | null;
  failure: boolean;
  token: der.Element | null;
}

function readResponse(data: Uint8Array): Response {
  const members = new der.Members(der.only(data));
  const status = new der.Members(members.take());
  const code = der.integer(status.take());
  const texts = status.optional(der.SEQUENCE);
  const failure = status.optional(der.BIT_STRING);
  if (failure !== null) der.bitString(failure);
  status.end();
  const token = members.optional(der.SEQUENCE);
  members.end();
  return { status: code, texts: texts === null ? null : readTexts(texts), failure: failure !== null, token };
}

function readTexts(element: der.Element): string[] {
  return der.split(element.content).map((one) => {
    const text = one.tag === der.UTF8_STRING ? textOf(one.content) : null;
    if (text === null) throw new der.DerError("a status text that is not UTF-8");
    return text;
  });
}

function requireGranted(response: Response, path: string): der.Element {
  const { status, texts, failure, token } = response;
  const observed = [
    STATUSES[Number(status)] ?? `status ${status}`,
    ...(failure ? ["failure bits"] : []),
    ...(texts ?? []).map(quotedText),
    ...(token === null ? ["no token"] : []),
  ].join(", ");
  if (status !== 0n || token === null) {
    throw new Refusal("the time-stamp authority did not grant the request", {
      path, expected: "status granted, and a token", observed,
      hint: "ask the sender for a token that was granted",
    });
  }
  if (failure || texts !== null) {
    throw new Refusal(
      "the time-stamp response has words or failure bits that no signature covers",
      {
        path, expected: "status granted and nothing else", observed,
        hint: "treat it as altered; ask the sender for the original token",
      },
    );
  }
  return token;
}

interface Stamp {
  version: bigint;
  hash: AlgorithmIdentifier;
  imprint: Uint8Array;
  genTime: number;
  accuracy: [seconds: bigint, millis: bigint, micros: bigint] | null;
  criticalExtension: string | null;
}

/** TSTInfo (RFC 3161, 2.4.2). */
function readStamp(content: Uint8Array): Stamp {
  const members = new der.Members(der.only(content));
  const version = der.integer(members.take());
  der.identifier(members.take());
  const imprint = new der.Members(members.take());
  const hash = readAlgorithm(imprint.take());
  const hashed = imprint.take(der.OCTET_STRING).content;
  imprint.end();
  der.integer(members.take());
  const genTime = der.time(members.take(der.GENERALIZED_TIME));
  const accuracy = members.optional(der.SEQUENCE);
  const ordering = members.optional(der.BOOLEAN);
  if (ordering !== null && !der.boolean(ordering)) {
    throw new der.DerError("a default value written out");
  }
  const nonce = members.optional(der.INTEGER);
  if (nonce !== null) der.integer(nonce);
  const authority = members.optional(der.context(0));
  if (authority !== null) der.only(authority.content);
  const extensions = members.optional(der.context(1));
  members.end();
  return {
    version, hash, imprint: hashed, genTime,
    accuracy: accuracy === null ? null : readAccuracy(accuracy),
    criticalExtension: extensions === null ? null : findCritical(extensions),
  };
}

function readAccuracy(element: der.Element): [bigint, bigint, bigint] {
  const members = new der.Members(element);
  const parts = [der.INTEGER, der.contextPrimitive(0), der.contextPrimitive(1)].map((tag) => {
    const found = members.optional(tag);
    return found === null ? 0n : der.integer({ ...found, tag: der.INTEGER });
  });
  members.end();
  return parts as [bigint, bigint, bigint];
}

function findCritical(held: der.Element): string | null {
  for (const element of der.split(held.content)) {
    const members = new der.Members(element);
    const kind = der.identifier(members.take());
    const mark = members.optional(der.BOOLEAN);
    members.take(der.OCTET_STRING);
    members.end();
    if (mark !== null && !der.boolean(mark)) throw new der.DerError("a default value written out");
    if (mark !== null) return kind;
  }
  return null;
}

function tokenOf(stamp: Stamp, signed: SignedMessage, path: string): Token {
  if (stamp.version !== 1n) {
    throw wrong(path, "time-stamp information of version 1", `${stamp.version}`);
  }
  if (stamp.criticalExtension !== null) {
    throw wrong(path, "no critical extension", stamp.criticalExtension);
  }
  const digest = digestName(stamp.hash, WHAT, path);
  if (stamp.imprint.length !== SIZES[digest]) {
    throw wrong(path, `an imprint of ${SIZES[digest]} bytes`, `${stamp.imprint.length} bytes`);
  }
  if (stamp.accuracy !== null) {
    const [seconds, millis, micros] = stamp.accuracy;
    const within = (value: bigint, most: bigint): boolean => value >= 0n && value <= most;
    if (!within(seconds, 86_400n) || !within(millis, 999n) || !within(micros, 999n)) {
      throw wrong(path, "an accuracy within a day", `${seconds} s ${millis} ms ${micros} µs`);
    }
  }
  return { genTime: momentOf(stamp.genTime), imprint: stamp.imprint, digest, signed };
}

/** The token must be about exactly these bytes. Says nothing about who made it. */
export async function requireImprint(token: Token, message: Uint8Array): Promise<void> {
  const computed = await digestOf(token.digest, message);
  if (same(token.imprint, computed)) return;
  throw new Refusal("the time-stamp token is about other bytes", {
    path: token.signed.path,
    expected: `${token.digest} ${hex(computed)}`,
    observed: hex(token.imprint),
    hint: "ask the sender for the token that was made for this signature",
  });
}

/** The sealing time that was claimed must not be after the time in the token. */
export function requireClaimBefore(token: Token, claimed: Moment): void {
  if (claimed.micros <= token.genTime.micros) return;
  throw new Refusal("the claimed sealing time is after the time stamp over it", {
    path: token.signed.path,
    expected: `a time up to ${token.genTime.text}`,
    observed: inUtc(claimed),
    hint: "ask the sealer to explain: the clock of the sealing computer was ahead, or the claim is "
      + "false",
  });
}

/** The whole check; the authority's path, anchor last, as it stood at genTime. */
export async function requireToken(
  token: Token, message: Uint8Array, anchors: Certificate[],
): Promise<Certificate[]> {
  await requireImprint(token, message);
  const { signed } = token;
  await requireMessage(signed, signed.content!);
  const path = await requirePath(
    signed.certificate, intermediatesOf(signed), anchors, token.genTime.micros, "time stamping",
  );
  requireNothingOffPath(signed.certificates, path, WHAT, signed.path);
  return path;
}

function wrong(path: string, expected: string, observed: string): Refusal {
  return new Refusal("the time-stamp token is not in the one form that is accepted", {
    path, expected, observed,
    hint: "ask for another token; this one was altered or made by something else",
  });
}
