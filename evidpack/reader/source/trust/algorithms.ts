// Which digests and signature algorithms count, and that all that name one agree.

import { Refusal } from "../refusal.ts";
import { same, unhex } from "../text.ts";
import type { AlgorithmIdentifier } from "./algorithm_identifiers.ts";
import type { Digest, Key } from "./keys.ts";

// RFC 5754, 2.
const DIGESTS: Record<string, Digest> = {
  "2.16.840.1.101.3.4.2.1": "sha256",
  "2.16.840.1.101.3.4.2.2": "sha384",
  "2.16.840.1.101.3.4.2.3": "sha512",
};
// RFC 5758, 3.2.
const ECDSA: Record<Digest, string> = {
  sha256: "1.2.840.10045.4.3.2", sha384: "1.2.840.10045.4.3.3", sha512: "1.2.840.10045.4.3.4",
};
// RFC 5754, 3.2: rsaEncryption leaves the digest to the signer's digestAlgorithm.
const RSA = "1.2.840.113549.1.1.1";
const RSA_WITH: Record<Digest, string> = {
  sha256: "1.2.840.113549.1.1.11", sha384: "1.2.840.113549.1.1.12", sha512: "1.2.840.113549.1.1.13",
};
// RSASSA-PSS (RFC 4055, 3.1) in full: the digest twice, and a salt as long as the digest.
const pss = (arc: string, salt: string): Uint8Array => unhex(
  "3041" + "06092a864886f70d01010a" + "3034" +
  `a00f300d0609608648016503040${arc}0500` + "a11c301a06092a864886f70d010108" +
  `300d0609608648016503040${arc}0500` + `a2030201${salt}`,
)!;
const PSS: Record<Digest, Uint8Array> = {
  sha256: pss("201", "20"), sha384: pss("202", "30"), sha512: pss("203", "40"),
};
// Known, and not accepted: RSA with MD5, SHA-1 and SHA-224, ECDSA with SHA-1, SHA-224 and SHA-3, DSA,
// Ed25519 and Ed448. A certificate may be read although it is signed so; a path may not use it.
const KNOWN = new Set([
  "1.2.840.113549.1.1.4", "1.2.840.113549.1.1.5", "1.2.840.113549.1.1.10", "1.2.840.113549.1.1.14",
  "1.2.840.10045.4.1", "1.2.840.10045.4.3.1", "2.16.840.1.101.3.4.3.9", "2.16.840.1.101.3.4.3.10",
  "2.16.840.1.101.3.4.3.11", "2.16.840.1.101.3.4.3.12", "1.2.840.10040.4.3",
  "2.16.840.1.101.3.4.3.1", "2.16.840.1.101.3.4.3.2", "1.3.101.112", "1.3.101.113",
  ...Object.values(ECDSA), ...Object.values(RSA_WITH),
]);

/** Whether a certificate's signature algorithm is one at all. */
export const isKnownAlgorithm = ({ algorithm }: AlgorithmIdentifier): boolean => KNOWN.has(algorithm);

export const ACCEPTED_DIGESTS = "SHA-256, SHA-384 or SHA-512";

/** The name of a digest algorithm. Refuses SHA-1, MD5 and anything else but SHA-2. */
export function digestName(
  identifier: AlgorithmIdentifier, what: string, path: string | null,
): Digest {
  const name = DIGESTS[identifier.algorithm];
  if (name !== undefined) return name;
  throw new Refusal(`${what} uses a digest that is weak or not accepted`, {
    path,
    expected: ACCEPTED_DIGESTS,
    observed: `object identifier ${identifier.algorithm}`,
    hint: "ask for it to be made again with SHA-256 or stronger",
  });
}

/**
 * The named algorithm, its parameters, the key and the digest must all agree. The field is not
 * covered by the signature, so it must have no freedom.
 */
export function requireSignatureAlgorithm(
  identifier: AlgorithmIdentifier, key: Key, digest: Digest, what: string, path: string | null,
): void {
  const { algorithm, parameters } = identifier;
  const agreed = key.kind === "rsa" ? [RSA, RSA_WITH[digest]] : [ECDSA[digest]];
  const wantsNull = key.kind === "rsa";
  if (agreed.includes(algorithm) && (parameters !== null) === wantsNull) return;
  throw new Refusal(`${what} names a signature algorithm that does not fit its key and digest`, {
    path,
    expected: `${agreed.join(" or ")} ${wantsNull ? "with NULL" : "without"} parameters`,
    observed: `${algorithm} ${parameters === null ? "without" : "with NULL"} parameters`,
  });
}

/** How a certificate is signed; null where the algorithm is not one that is accepted. */
export function certificateAlgorithm(
  identifier: AlgorithmIdentifier,
): { kind: "ec" | "rsa"; digest: Digest; pss: boolean } | null {
  const { algorithm, parameters, raw } = identifier;
  for (const digest of Object.values(DIGESTS)) {
    if (same(raw, PSS[digest])) return { kind: "rsa", digest, pss: true };
    if (algorithm === ECDSA[digest] && parameters === null) return { kind: "ec", digest, pss: false };
    const isNull = parameters !== null && same(parameters, new Uint8Array([5, 0]));
    if (algorithm === RSA_WITH[digest] && isNull) return { kind: "rsa", digest, pss: false };
  }
  return null;
}
