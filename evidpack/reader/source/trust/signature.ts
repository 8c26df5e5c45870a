// Detached CMS signatures over a seal statement (RFC 5652).

import { MAX_SIGNATURE_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import type { Certificate } from "./certificates.ts";
import * as der from "./der.ts";
import { requireNothingOffPath, requirePath } from "./paths.ts";
import {
  DATA, decoding, intermediatesOf, readSignedData, requireForm, type SignedMessage,
} from "./signed_data.ts";

const WHAT = "the signature";

/** Read a detached signature in the one form that is accepted. Throws a Refusal. */
export function parseSignature(data: Uint8Array, path: string): SignedMessage {
  if (data.length > MAX_SIGNATURE_BYTES) {
    throw new Refusal("the signature file is too large", {
      path, expected: `at most ${MAX_SIGNATURE_BYTES} bytes`, observed: `${data.length} bytes`,
    });
  }
  const form = { what: WHAT, path, contentType: DATA, version: 1n };
  const signed = readSignedData(decoding(form, () => der.only(data)), form);
  const other = "another form";
  requireForm(form, signed.content === null, "a detached signature, without the content", other);
  requireForm(form, signed.certificatesSorted, "certificates in DER order", other);
  requireForm(form, signed.signingTime !== null, "a signing time", other);
  return signed;
}

/**
 * The path from the signing certificate to one of the anchors, for signing seals, at a time in
 * microseconds. Every certificate in the signature must be on that path.
 */
export async function requireSigner(
  signature: SignedMessage, anchors: Certificate[], at: number,
): Promise<Certificate[]> {
  const path = await requirePath(
    signature.certificate, intermediatesOf(signature), anchors, at, "signing seals",
  );
  requireNothingOffPath(signature.certificates, path, WHAT, signature.path);
  return path;
}
