// What the verifier brings as PEM (RFC 7468), and certificates as PEM or one in DER.

import { MAX_PEM_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { type Certificate, nameOf, readCertificate, sameCertificate } from "./certificates.ts";

const LABEL = /^-----BEGIN ([A-Z0-9 ]*)-----\s*$/gm;
const MAX_BLOCKS = 64;
const WHAT: Record<string, [one: string, many: string]> = {
  "CERTIFICATE": ["certificate", "certificates"],
  "X509 CRL": ["revocation list", "revocation lists"],
};

/** All certificates in these bytes, in order; text between PEM blocks is ignored. */
export function loadCertificates(data: Uint8Array, path: string): Certificate[] {
  if (data.length > MAX_PEM_BYTES) {
    throw new Refusal("the file is too large to be a list of certificates", {
      path, expected: `at most ${MAX_PEM_BYTES} bytes`, observed: `${data.length} bytes`,
    });
  }
  if (data[0] === 0x30) return [readCertificate(data, path)];
  const found: Certificate[] = [];
  for (const block of pemBlocks(data, "CERTIFICATE", path)) {
    const certificate = readCertificate(block, path);
    if (found.some((one) => sameCertificate(one, certificate))) {
      throw new Refusal(
        `the certificate of ${nameOf(certificate)} stands in the file twice`, { path },
      );
    }
    found.push(certificate);
  }
  return found;
}

/** The contents of all PEM blocks, which must bear this label. Throws a Refusal. */
export function pemBlocks(data: Uint8Array, label: string, path: string): Uint8Array[] {
  const [one] = WHAT[label];
  const text = Array.from(data, (byte) => String.fromCharCode(byte)).join("").replace(/\r\n?/g, "\n");
  const labels = [...text.matchAll(LABEL)].map((found) => found[1]);
  requireLabels(labels, label, path);
  const whole = new RegExp(
    `^-----BEGIN ${label}-----\\s*?\\n((?:[A-Za-z0-9+/=]+\\s*?\\n)+)-----END ${label}-----\\s*?$`, "gm",
  );
  const blocks = [...text.matchAll(whole)].map((found) => found[1]);
  if (blocks.length !== labels.length) {
    throw new Refusal(`a ${one} block is broken off or holds something other than base64`, {
      path,
      expected: `${labels.length} complete blocks`,
      observed: String(blocks.length),
      hint: "copy the file again from where it came",
    });
  }
  return blocks.map((block) => fromBase64(block, one, path));
}

function requireLabels(labels: string[], wanted: string, path: string): void {
  const [one, many] = WHAT[wanted];
  if (!labels.length) {
    throw new Refusal(`there is no ${one} in this`, {
      path,
      expected: `a line “-----BEGIN ${wanted}-----”, or one ${one} in DER`,
      observed: "none",
      hint: `ask for the ${one} as PEM`,
    });
  }
  const other = labels.find((label) => label !== wanted);
  if (other !== undefined) {
    throw new Refusal(`this holds something other than ${many}`, {
      path,
      expected: `${wanted} blocks only`,
      observed: other,
      hint: "never hand over a private key; keep each kind of block in a file of its own",
    });
  }
  if (labels.length > MAX_BLOCKS) {
    throw new Refusal(`the file holds too many ${many}`, {
      path, expected: `at most ${MAX_BLOCKS}`, observed: String(labels.length),
    });
  }
}

function fromBase64(block: string, what: string, path: string): Uint8Array {
  try {
    return Uint8Array.from(atob(block.replace(/\s/g, "")), (mark) => mark.charCodeAt(0));
  } catch {
    throw new Refusal(`a ${what} block holds something other than base64`, {
      path, hint: "copy the file again from where it came",
    });
  }
}
