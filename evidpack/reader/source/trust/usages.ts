// What a certificate may be used for: key usage and extended key usage (RFC 5280, 4.2.1).

import { Refusal } from "../refusal.ts";
import { type Certificate, nameOf } from "./certificates.ts";
import { BASIC_CONSTRAINTS, EXTENDED_KEY_USAGE, KEY_USAGE } from "./extensions.ts";

export type Usage = "signing seals" | "time stamping";

const DOCUMENT_SIGNING = "1.3.6.1.5.5.7.3.36";
const EMAIL_PROTECTION = "1.3.6.1.5.5.7.3.4";
const TIME_STAMPING = "1.3.6.1.5.5.7.3.8";
const PURPOSE_NAMES: Record<string, string> = {
  [DOCUMENT_SIGNING]: "documentSigning",
  [EMAIL_PROTECTION]: "emailProtection",
  [TIME_STAMPING]: "timeStamping",
  "1.3.6.1.5.5.7.3.1": "serverAuth",
  "1.3.6.1.5.5.7.3.2": "clientAuth",
  "1.3.6.1.5.5.7.3.3": "codeSigning",
  "1.3.6.1.5.5.7.3.9": "OCSPSigning",
  "2.5.29.37.0": "anyExtendedKeyUsage",
};
const WANTED: Record<Usage, string[]> = {
  "signing seals": [DOCUMENT_SIGNING, EMAIL_PROTECTION],
  "time stamping": [TIME_STAMPING],
};
const LEAF_CRITICAL = new Set([KEY_USAGE, EXTENDED_KEY_USAGE, BASIC_CONSTRAINTS]);

const names = (purposes: string[]): string =>
  purposes.map((purpose) => PURPOSE_NAMES[purpose] ?? purpose).join(", ");

/** The certificate must be an end certificate for exactly this use. Throws a Refusal. */
export function requireUsage(certificate: Certificate, usage: Usage): void {
  requireEndCertificate(certificate);
  if (usage === "signing seals") requireSigning(certificate);
  else requireTimeStamping(certificate);
}

/** An authority limited to certain purposes must be allowed the ones at hand. */
export function requireAuthorityPurposes(certificate: Certificate, usage: Usage): void {
  const { purposes } = certificate.extensions;
  const wanted = WANTED[usage];
  if (purposes === null || wanted.every((one) => purposes.includes(one))) return;
  throw new Refusal(`the authority ${nameOf(certificate)} may not issue certificates for ${usage}`, {
    expected: `extendedKeyUsage with ${names(wanted)}, or none`,
    observed: names(purposes),
    hint: "ask the authority for a certificate from its branch for this purpose",
  });
}

function requireEndCertificate(certificate: Certificate): void {
  if (certificate.extensions.authority) {
    throw wrong(certificate, "is an authority's own", "basicConstraints CA false", "CA true");
  }
  for (const { kind, critical } of certificate.all) {
    if (critical && !LEAF_CRITICAL.has(kind)) {
      throw wrong(
        certificate,
        "has a critical extension that is not understood",
        "keyUsage, extendedKeyUsage and basicConstraints alone as critical",
        kind,
      );
    }
  }
}

function requireSigning(certificate: Certificate): void {
  const { keyUsage, purposes } = certificate.extensions;
  let expected = "keyUsage digitalSignature and nonRepudiation";
  if (keyUsage === null) throw wrong(certificate, "has no key usage", expected, "no keyUsage");
  if (!keyUsage.includes("digitalSignature") || !keyUsage.includes("nonRepudiation")) {
    throw wrong(certificate, "has the wrong key usage", expected, keyUsage.join(", ") || "none");
  }
  const wanted = WANTED["signing seals"];
  expected = `extendedKeyUsage ${names(wanted)}`;
  if (purposes === null) throw wrong(certificate, "names no purpose", expected, "no extendedKeyUsage");
  if (!wanted.every((one) => purposes.includes(one))) {
    throw wrong(certificate, "is for another purpose", expected, names(purposes));
  }
}

function requireTimeStamping(certificate: Certificate): void {
  const { keyUsage, purposes, purposesCritical } = certificate.extensions;
  const expected = "extendedKeyUsage critical, timeStamping alone";
  if (purposes === null) throw wrong(certificate, "names no purpose", expected, "no extendedKeyUsage");
  if (purposes.length !== 1 || purposes[0] !== TIME_STAMPING) {
    throw wrong(certificate, "is for another or a second purpose", expected, names(purposes));
  }
  if (!purposesCritical) {
    throw wrong(certificate, "has a purpose that is not critical", expected, "not critical");
  }
  const allowed = ["digitalSignature", "nonRepudiation"];
  if (keyUsage !== null && (!keyUsage.length || !keyUsage.every((one) => allowed.includes(one)))) {
    throw wrong(
      certificate,
      "has the wrong key usage",
      "keyUsage digitalSignature, nonRepudiation or both",
      keyUsage.join(", ") || "none",
    );
  }
}

function wrong(certificate: Certificate, rule: string, expected: string, observed: string): Refusal {
  return new Refusal(`the certificate of ${nameOf(certificate)} ${rule}`, {
    expected,
    observed,
    hint: "ask the authority that issued it for a certificate of the right kind, or the sender who "
      + "should have signed",
  });
}
