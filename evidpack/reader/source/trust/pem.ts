// The certificates that the verifier brings: a PEM file (RFC 7468), pasted text, or one DER file.

import { MAX_PEM_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { type Certificate, nameOf, readCertificate, sameCertificate } from "./certificates.ts";

const LABEL = /^-----BEGIN ([A-Z0-9 ]*)-----\s*$/gm;
const BLOCK =
  /^-----BEGIN CERTIFICATE-----\s*?\n((?:[A-Za-z0-9+/=]+\s*?\n)+)-----END CERTIFICATE-----\s*?$/gm;
const MAX_CERTIFICATES = 64;

/** All certificates in these bytes, in order; text between PEM blocks is ignored. */
export function loadCertificates(data: Uint8Array, path: string): Certificate[] {
  if (data.length > MAX_PEM_BYTES) {
    throw new Refusal("the file is too large to be a list of certificates", {
      path, expected: `at most ${MAX_PEM_BYTES} bytes`, observed: `${data.length} bytes`,
    });
  }
  if (data[0] === 0x30) return [readCertificate(data, path)];
  const text = Array.from(data, (byte) => String.fromCharCode(byte)).join("").replace(/\r\n?/g, "\n");
  const labels = [...text.matchAll(LABEL)].map((found) => found[1]);
  requireLabels(labels, path);
  const blocks = [...text.matchAll(BLOCK)].map((found) => found[1]);
  if (blocks.length !== labels.length) {
    throw new Refusal("a certificate block is broken off or holds something other than base64", {
      path,
      expected: `${labels.length} complete blocks`,
      observed: String(blocks.length),
      hint: "copy the file again from where it came",
    });
  }
  const found: Certificate[] = [];
  for (const block of blocks) {
    const certificate = readCertificate(fromBase64(block, path), path);
    if (found.some((one) => sameCertificate(one, certificate))) {
      throw new Refusal(
        `the certificate of ${nameOf(certificate)} stands in the file twice`, { path },
      );
    }
    found.push(certificate);
  }
  return found;
}

function requireLabels(labels: string[], path: string): void {
  if (!labels.length) {
    throw new Refusal("there is no certificate in this", {
      path,
      expected: "a line “-----BEGIN CERTIFICATE-----”, or one certificate in DER",
      observed: "none",
      hint: "ask for the certificate as PEM",
    });
  }
  const other = labels.find((label) => label !== "CERTIFICATE");
  if (other !== undefined) {
    throw new Refusal("this holds something other than certificates", {
      path,
      expected: "CERTIFICATE blocks only",
      observed: other,
      hint: "never hand over a private key; keep each kind of block in a file of its own",
    });
  }
  if (labels.length > MAX_CERTIFICATES) {
    throw new Refusal("the file holds too many certificates", {
      path, expected: `at most ${MAX_CERTIFICATES}`, observed: String(labels.length),
    });
  }
}

function fromBase64(block: string, path: string): Uint8Array {
  try {
    return Uint8Array.from(atob(block.replace(/\s/g, "")), (mark) => mark.charCodeAt(0));
  } catch {
    throw new Refusal("a certificate block holds something other than base64", {
      path, hint: "copy the file again from where it came",
    });
  }
}
