// CMS signed data (RFC 5652) in the one form accepted here, for seals and for time stamps: one
// signer, named by issuer and serial number, with signed attributes; the certificates inside; no
// revocation lists and no unsigned attributes. Fields that the signature does not cover have one
// permitted value each, so that no bit of the file is free.

import { Refusal } from "../refusal.ts";
import { compareBytes, hex, same } from "../text.ts";
import { type AlgorithmIdentifier, readAlgorithm } from "./algorithm_identifiers.ts";
import { digestName, requireSignatureAlgorithm } from "./algorithms.ts";
import { type Certificate, nameOf, readCertificate, sameCertificate } from "./certificates.ts";
import * as der from "./der.ts";
import { type Digest, digestOf, requireKeyStrength, signatureHolds } from "./keys.ts";

export const DATA = "1.2.840.113549.1.7.1";
const SIGNED_DATA = "1.2.840.113549.1.7.2";
const CONTENT_TYPE = "1.2.840.113549.1.9.3";
const MESSAGE_DIGEST = "1.2.840.113549.1.9.4";
const SIGNING_TIME = "1.2.840.113549.1.9.5";
const MAX_CARRIED = 16;

/** What was read. The signature itself is checked by `requireMessage`. */
export interface SignedMessage {
  what: string;
  path: string;
  certificate: Certificate;
  certificates: Certificate[];
  certificatesSorted: boolean;
  content: Uint8Array | null;
  digest: Digest;
  /** The DER of each signed attribute's one value, by object identifier. */
  attributes: Map<string, Uint8Array>;
  signedBytes: Uint8Array;
  signature: Uint8Array;
  /** Claimed by the signer, microseconds since 1970; null where there is none. */
  signingTime: number | null;
}

export interface Form {
  what: string;
  path: string;
  contentType: string;
  version: bigint;
}

/** Read a structure; what is not DER, or of another shape, becomes a refusal. */
export function decoding<T>(form: { what: string; path: string }, read: () => T): T {
  try {
    return read();
  } catch (error) {
    if (!(error instanceof der.DerError)) throw error;
    throw new Refusal(`${form.what} is not in the one form that is accepted`, {
      path: form.path,
      expected: "DER, no optional part that this format leaves out, nothing trailing",
      observed: error.message,
      hint: "ask for the file again; it was altered, cut short or made by something else",
    });
  }
}

/** Refuse where something does not hold. */
export function requireForm(
  form: { what: string; path: string }, holds: boolean, expected: string, observed: string,
): void {
  if (holds) return;
  throw new Refusal(`${form.what} is not in the one form that is accepted`, {
    path: form.path,
    expected,
    observed,
    hint: "ask for the file again; it was altered or made by something else",
  });
}

interface SignerInfo {
  version: bigint;
  issuer: Uint8Array;
  serial: bigint;
  digestAlgorithm: AlgorithmIdentifier;
  attributes: der.Element;
  signatureAlgorithm: AlgorithmIdentifier;
  signature: Uint8Array;
}

interface Parts {
  contentType: string;
  version: bigint;
  digestAlgorithms: Uint8Array[];
  innerType: string;
  content: Uint8Array | null;
  certificates: Uint8Array[];
  signers: SignerInfo[];
}

/** Take signed data apart and hold every unsigned field to its one permitted value. */
export function readSignedData(info: der.Element, form: Form): SignedMessage {
  const { what, path, contentType } = form;
  const parts = decoding(form, () => readParts(info));
  requireForm(form, parts.contentType === SIGNED_DATA, "signed data", "another content type");
  requireForm(form, parts.version === form.version, `version ${form.version}`, `${parts.version}`);
  requireForm(form, parts.innerType === contentType, `content type ${contentType}`, parts.innerType);
  requireForm(form, parts.signers.length === 1, "one signer", String(parts.signers.length));
  const [signer] = parts.signers;
  requireForm(form, signer.version === 1n, "signer version 1", `${signer.version}`);
  const digest = digestName(signer.digestAlgorithm, what, path);
  const named = parts.digestAlgorithms;
  const agrees = named.length === 1 && same(named[0], signer.digestAlgorithm.raw);
  requireForm(form, agrees, "one digest algorithm, the signer's", "another list");
  const certificates = readCarried(parts.certificates, form);
  const certificate = signerOf(certificates, signer, form);
  requireKeyStrength(certificate.key, nameOf(certificate), path);
  requireSignatureAlgorithm(signer.signatureAlgorithm, certificate.key, digest, what, path);
  const { signedBytes, attributes } = readAttributes(signer.attributes, form);
  const type = attributes.get(CONTENT_TYPE);
  const typed = type !== undefined
    && decoding(form, () => der.identifier(der.only(type))) === contentType;
  requireForm(form, typed, "a signed content type equal to the outer one", "none or another");
  return {
    what, path, certificate, certificates, content: parts.content, digest, attributes, signedBytes,
    certificatesSorted: inOrder(parts.certificates),
    signature: signer.signature,
    signingTime: readSigningTime(attributes.get(SIGNING_TIME), form),
  };
}

function readParts(info: der.Element): Parts {
  const outer = new der.Members(info);
  const contentType = der.identifier(outer.take());
  const held = outer.take(der.context(0));
  outer.end();
  const data = new der.Members(der.only(held.content));
  const version = der.integer(data.take());
  const digestAlgorithms = der.setOf(data.take()).map((one) => readAlgorithm(one).raw);
  const inner = new der.Members(data.take());
  const innerType = der.identifier(inner.take());
  const content = inner.optional(der.context(0));
  inner.end();
  const carried = data.take(der.context(0));
  const signers = der.setOf(data.take()).map(readSigner);
  data.end();
  return {
    contentType, version, digestAlgorithms, innerType,
    content: content === null ? null : octets(der.only(content.content)),
    certificates: der.split(carried.content).map((one) => one.raw),
    signers,
  };
}

function octets(element: der.Element): Uint8Array {
  if (element.tag !== der.OCTET_STRING) throw new der.DerError("content that is no octet string");
  return element.content;
}

function readSigner(element: der.Element): SignerInfo {
  const members = new der.Members(element);
  const version = der.integer(members.take());
  const named = new der.Members(members.take());
  const issuer = named.take().raw;
  const serial = der.integer(named.take());
  named.end();
  const digestAlgorithm = readAlgorithm(members.take());
  const attributes = members.take(der.context(0));
  const signatureAlgorithm = readAlgorithm(members.take());
  const signature = octets(members.take());
  members.end();
  return { version, issuer, serial, digestAlgorithm, attributes, signatureAlgorithm, signature };
}

function readCarried(carried: Uint8Array[], form: Form): Certificate[] {
  const few = carried.length <= MAX_CARRIED;
  requireForm(form, few, `at most ${MAX_CARRIED} certificates`, String(carried.length));
  const once = new Set(carried.map((one) => hex(one))).size === carried.length;
  requireForm(form, once, "each certificate once", "the same certificate twice");
  return carried.map((one) => readCertificate(one, form.path));
}

function inOrder(carried: Uint8Array[]): boolean {
  return carried.every((one, at) => at === 0 || compareBytes(carried[at - 1], one) < 0);
}

function signerOf(certificates: Certificate[], signer: SignerInfo, form: Form): Certificate {
  const found = certificates.filter(
    (one) => one.serial === signer.serial && same(one.issuer.raw, signer.issuer),
  );
  requireForm(
    form,
    found.length === 1,
    "one certificate inside with the issuer and serial number that the signer is named by",
    String(found.length),
  );
  return found[0];
}

function readAttributes(
  held: der.Element, form: Form,
): { signedBytes: Uint8Array; attributes: Map<string, Uint8Array> } {
  // Signed as a SET although it stands there under another tag (RFC 5652, 5.4).
  const signedBytes = Uint8Array.from(held.raw);
  signedBytes[0] = der.SET;
  const attributes = new Map<string, Uint8Array>();
  for (const one of decoding(form, () => der.setOf(der.only(signedBytes)))) {
    const { kind, values } = decoding(form, () => {
      const members = new der.Members(one);
      const read = { kind: der.identifier(members.take()), values: der.setOf(members.take()) };
      members.end();
      return read;
    });
    requireForm(form, values.length === 1, `one value of attribute ${kind}`, String(values.length));
    requireForm(form, !attributes.has(kind), `attribute ${kind} once`, "twice");
    attributes.set(kind, values[0].raw);
  }
  return { signedBytes, attributes };
}

function readSigningTime(value: Uint8Array | undefined, form: Form): number | null {
  return value === undefined ? null : decoding(form, () => der.time(der.only(value)));
}

/** The carried certificates but the signer's. */
export function intermediatesOf(message: SignedMessage): Certificate[] {
  return message.certificates.filter((one) => !sameCertificate(one, message.certificate));
}

/** The signature must be valid and made over `content` (RFC 5652, 5.4 and 5.6). */
export async function requireMessage(message: SignedMessage, content: Uint8Array): Promise<void> {
  const { what, path, digest, certificate } = message;
  const computed = await digestOf(digest, content);
  const signed = message.attributes.get(MESSAGE_DIGEST);
  if (signed === undefined || !same(signed, der.wrapped(der.OCTET_STRING, computed))) {
    throw new Refusal(`${what} was made over other bytes`, {
      path,
      expected: `${digest} ${hex(computed)}`,
      observed: signed === undefined ? "none" : hex(signed.subarray(2)),
      hint: "treat the file as altered or exchanged; ask the sender for the original",
    });
  }
  if (await signatureHolds(certificate.key, message.signature, message.signedBytes, digest)) return;
  throw new Refusal(
    `${what}: the signature does not verify with the key of the certificate it carries`,
    {
      path,
      expected: "a signature over these bytes",
      observed: "a signature over other bytes, or by another key",
      hint: "treat it as altered; ask the sender for the original file",
    },
  );
}
