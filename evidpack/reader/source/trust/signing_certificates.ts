// The signed attribute that names the signer's certificate by digest (RFC 2634, 5.4; RFC 5035).
// RFC 3161, 2.4.2, requires it of a token. The older form names the certificate by SHA-1: it is
// compared, but nothing rests on it. Only the first identifier, the signer's, is compared.

import { Refusal } from "../refusal.ts";
import { hex, same } from "../text.ts";
import { readAlgorithm } from "./algorithm_identifiers.ts";
import { digestName } from "./algorithms.ts";
import * as der from "./der.ts";
import { digestOf } from "./keys.ts";
import { decoding, type SignedMessage } from "./signed_data.ts";

const SIGNING_CERTIFICATE = "1.2.840.113549.1.9.16.2.12";
const SIGNING_CERTIFICATE_V2 = "1.2.840.113549.1.9.16.2.47";

interface Named {
  name: string;
  digest: Uint8Array;
  computed: Uint8Array;
}

/** At least one of the two attributes is there, and each names the signer's certificate. */
export async function requireNamedCertificate(signed: SignedMessage): Promise<void> {
  const named: Named[] = [];
  const encoded = signed.certificate.raw;
  const first = firstOf(signed, SIGNING_CERTIFICATE, false);
  if (first !== null) {
    const computed = new Uint8Array(await crypto.subtle.digest("SHA-1", Uint8Array.from(encoded)));
    named.push({ name: "sha1", digest: first.digest, computed });
  }
  const second = firstOf(signed, SIGNING_CERTIFICATE_V2, true);
  if (second !== null) {
    const name = second.algorithm === null
      ? "sha256"
      : digestName(second.algorithm, signed.what, signed.path);
    named.push({ name, digest: second.digest, computed: await digestOf(name, encoded) });
  }
  if (!named.length) {
    throw new Refusal(`${signed.what} does not say which certificate it was signed with`, {
      path: signed.path,
      expected: "a signed attribute signing-certificate (RFC 3161 §2.4.2)",
      observed: "none",
      hint: "ask the authority for a token that follows RFC 3161",
    });
  }
  for (const { name, digest, computed } of named) {
    if (same(digest, computed)) continue;
    throw new Refusal(
      `${signed.what} was signed under another certificate than the one it carries`,
      {
        path: signed.path,
        expected: `${name} ${hex(digest)}`,
        observed: hex(computed),
        hint: "treat it as altered; ask the sender for the original token",
      },
    );
  }
}

type Identifier = { algorithm: ReturnType<typeof readAlgorithm> | null; digest: Uint8Array };

function firstOf(signed: SignedMessage, kind: string, second: boolean): Identifier | null {
  const value = signed.attributes.get(kind);
  if (value === undefined) return null;
  return decoding(signed, () => {
    const members = new der.Members(der.only(value));
    const list = der.split(members.take(der.SEQUENCE).content).map((one) => readOne(one, second));
    members.optional(der.SEQUENCE);
    members.end();
    return list[0] ?? null;
  });
}

function readOne(element: der.Element, second: boolean): Identifier {
  const members = new der.Members(element);
  const algorithm = second ? members.optional(der.SEQUENCE) : null;
  const digest = members.take(der.OCTET_STRING).content;
  const issuer = members.optional(der.SEQUENCE);
  if (issuer !== null) {
    const named = new der.Members(issuer);
    der.split(named.take(der.SEQUENCE).content);
    der.integer(named.take());
    named.end();
  }
  members.end();
  return { algorithm: algorithm === null ? null : readAlgorithm(algorithm), digest };
}
