// Public keys: which count, and the check of one signature with the browser's own cryptography.
// ECDSA on P-256 or P-384, RSA with PKCS #1 v1.5 from 3,072 bits, SHA-256, SHA-384 or SHA-512
// (FIPS 186-5, RFC 5754, RFC 8017).

import { MIN_RSA_BITS } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { readAlgorithm } from "./algorithm_identifiers.ts";
import { type Curve, curveOf, requirePoint } from "./curves.ts";
import * as der from "./der.ts";

const EC_KEY = "1.2.840.10045.2.1";
const RSA_KEY = "1.2.840.113549.1.1.1";
const OTHER_CURVES: Record<string, string> = {
  "1.3.132.0.35": "secp521r1", "1.3.132.0.10": "secp256k1", "1.2.840.10045.3.1.1": "secp192r1",
};
const ACCEPTED = `ECDSA P-256 or P-384, or RSA of at least ${MIN_RSA_BITS} bits`;

export type Digest = "sha256" | "sha384" | "sha512";
export const WEB_DIGESTS: Record<Digest, string> = {
  sha256: "SHA-256", sha384: "SHA-384", sha512: "SHA-512",
};

export interface Key {
  kind: "ec" | "rsa" | "other";
  /** In a few words, for messages. */
  shown: string;
  curve: Curve | null;
  rsaBits: number;
  /** The whole SubjectPublicKeyInfo. */
  raw: Uint8Array;
}

export function readKey(element: der.Element): Key {
  const members = new der.Members(element);
  const algorithm = readAlgorithm(members.take(der.SEQUENCE), true);
  const bits = der.octetsOf(members.take());
  members.end();
  const raw = element.raw;
  if (algorithm.algorithm === RSA_KEY) return { ...rsa(bits), raw };
  if (algorithm.algorithm !== EC_KEY || algorithm.parameters === null) {
    const shown = `a key of another kind (${algorithm.algorithm})`;
    return { kind: "other", shown, curve: null, rsaBits: 0, raw };
  }
  const dotted = der.identifier(der.only(algorithm.parameters));
  const curve = curveOf(dotted);
  if (curve !== null) requirePoint(curve, bits);
  const shown = `an elliptic-curve key on ${curve?.name ?? OTHER_CURVES[dotted] ?? dotted}`;
  return { kind: "ec", shown, curve, rsaBits: 0, raw };
}

function rsa(bits: Uint8Array): Omit<Key, "raw"> {
  const members = new der.Members(der.only(bits));
  const modulus = der.integer(members.take());
  der.integer(members.take());
  members.end();
  const size = modulus > 0n ? modulus.toString(2).length : 0;
  return { kind: "rsa", shown: `RSA of ${size} bits`, curve: null, rsaBits: size };
}

/** Refuses another kind of key, another curve, or an RSA key that is too short. */
export function requireKeyStrength(key: Key, whose: string, path: string | null = null): void {
  if (key.kind === "rsa" && key.rsaBits >= MIN_RSA_BITS) return;
  if (key.kind === "ec" && key.curve !== null) return;
  throw new Refusal(`the key of ${whose} is not strong enough or not of an accepted kind`, {
    path,
    expected: ACCEPTED,
    observed: key.shown,
    hint: "ask the authority that issued the certificate for one with a stronger key",
  });
}

/** Whether `signature` was made over `data` with this key; `pss` for RSA in the other padding. */
export async function signatureHolds(
  key: Key, signature: Uint8Array, data: Uint8Array, digest: Digest, pss = false,
): Promise<boolean> {
  const hash = WEB_DIGESTS[digest];
  try {
    if (key.kind === "rsa") {
      const name = pss ? "RSA-PSS" : "RSASSA-PKCS1-v1_5";
      const imported = await imports(key, { name, hash });
      const saltLength = { sha256: 32, sha384: 48, sha512: 64 }[digest];
      return await crypto.subtle.verify({ name, saltLength }, imported, bytes(signature), bytes(data));
    }
    if (key.curve === null) return false;
    const plain = plainSignature(signature, key.curve.bytes);
    const imported = await imports(key, { name: "ECDSA", namedCurve: key.curve.web });
    return await crypto.subtle.verify({ name: "ECDSA", hash }, imported, bytes(plain), bytes(data));
  } catch (error) {
    if (error instanceof der.DerError || error instanceof DOMException) return false;
    throw error;
  }
}

type Import = RsaHashedImportParams | EcKeyImportParams;
const imports = (key: Key, algorithm: Import): Promise<CryptoKey> =>
  crypto.subtle.importKey("spki", bytes(key.raw), algorithm, false, ["verify"]);

/** SHA-2 of some bytes by the browser. */
export async function digestOf(digest: Digest, data: Uint8Array): Promise<Uint8Array> {
  return new Uint8Array(await crypto.subtle.digest(WEB_DIGESTS[digest], bytes(data)));
}

/** Bytes with a buffer of their own, as the browser's interface is typed. */
const bytes = (data: Uint8Array): Uint8Array<ArrayBuffer> => Uint8Array.from(data);

/** ECDSA-Sig-Value (RFC 3279, 2.2.3) as two numbers of fixed length, which browsers take. */
function plainSignature(signature: Uint8Array, size: number): Uint8Array {
  const members = new der.Members(der.only(signature));
  const plain = new Uint8Array(2 * size);
  for (const at of [0, size]) {
    const element = members.take();
    if (der.integer(element) <= 0n) throw new der.DerError("a signature with no positive numbers");
    const number = element.content[0] === 0 ? element.content.subarray(1) : element.content;
    if (number.length > size) throw new der.DerError("a signature with numbers that are too large");
    plain.set(number, at + size - number.length);
  }
  members.end();
  return plain;
}
