// What a person may bring beside the file: anchors, revocation lists, a time stamp kept apart.

import { MAX_TOKEN_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { grouped, same } from "../text.ts";
import { type Certificate, nameOf, sameCertificate } from "../trust/certificates.ts";
import { digestOf } from "../trust/keys.ts";
import { quotedName } from "../trust/names.ts";
import { loadCertificates } from "../trust/pem.ts";
import { sameList, shownList } from "../trust/revocation.ts";
import { loadRevocationLists, type RevocationList } from "../trust/revocation_lists.ts";
import { describe } from "../verifying/judge.ts";
import { el } from "./dom.ts";
import type { Kind } from "./given_field.ts";

/** Certificates of authorities, for one purpose. */
export const anchorKind = (title: string, about: string): Kind<Certificate> => ({
  title,
  about,
  noun: "certificate",
  accept: ".pem,.crt,.cer,.der,.txt",
  pasted: "-----BEGIN CERTIFICATE-----",
  many: true,
  read: loadCertificates,
  same: sameCertificate,
  async show(certificate) {
    const told = await describe("anchor", certificate);
    return { name: nameOf(certificate), about: [
      el("p", { class: "digits" }, told.fingerprint),
      el("p", { class: "quiet" }, `Valid ${told.validFrom.slice(0, 10)} to ${told.validUntil.slice(0, 10)}. `
        + "Compare these groups with what the authority told you."),
    ] };
  },
});

export const revocationKind: Kind<RevocationList> = {
  title: "Revocation lists",
  about: "Where you have the lists (CRL) of the authorities for signers, of the time of sealing or later: with them "
    + "the page checks that no certificate of the signer's path had been revoked. There must be one for each "
    + "certificate of that path.",
  noun: "list",
  accept: ".crl,.pem,.der,.txt",
  pasted: "-----BEGIN X509 CRL-----",
  many: true,
  read: loadRevocationLists,
  same: sameList,
  async show(list) {
    return { name: quotedName(list.issuer), about: [el("p", { class: "quiet" }, shownList(list))] };
  },
};

export const tokenKind: Kind<Uint8Array> = {
  title: "A time stamp kept apart",
  about: "Where the sealer's time stamp is not in the file but was given to you beside it (a .tsr file).",
  noun: "time-stamp",
  accept: ".tsr,.tst,.der",
  pasted: null,
  many: false,
  read(bytes, path) {
    if (bytes.length && bytes.length <= MAX_TOKEN_BYTES) return [bytes];
    throw new Refusal("this is no time stamp", {
      path, expected: `1 to ${MAX_TOKEN_BYTES} bytes`, observed: `${bytes.length} bytes`,
    });
  },
  same,
  async show(bytes) {
    const digest = grouped(await digestOf("sha256", bytes));
    return { name: `Time stamp of ${bytes.length} bytes`, about: [el("p", { class: "digits" }, `SHA-256 ${digest}`)] };
  },
};
