// Step 6: a path leads from the signing certificate to an anchor that the verifier gave.

import { type Moment } from "../moment.ts";
import { faultFrom } from "../refusal.ts";
import { grouped } from "../text.ts";
import { nameOf } from "../trust/certificates.ts";
import { requireNotRevoked } from "../trust/revocation.ts";
import { digestOf } from "../trust/keys.ts";
import { requireSigner } from "../trust/signature.ts";
import type { SignedMessage } from "../trust/signed_data.ts";
import { type Step, step } from "./report.ts";
import type { SignedDocument, Trust } from "./signed_document.ts";

export async function examineSigner(
  document: SignedDocument, trust: Trust, signature: SignedMessage | null, moment: Moment | null,
): Promise<Step> {
  if (signature === null || moment === null) {
    return step(
      6,
      "not established",
      "the signer was not examined: the signature or the statement cannot be read",
    );
  }
  const subject = nameOf(signature.certificate);
  const shown = grouped(await digestOf("sha256", signature.certificate.key.raw));
  if (!trust.anchors.length) {
    return {
      ...step(
        6,
        "not established",
        `signed with a certificate in the name of ${subject} (key fingerprint ${shown}); no anchor `
          + "was given, so nothing says that the name is true",
      ),
      next: `Ask the ${document.whose}'s unit for its fingerprint sheet and its authority's `
        + "certificate, by another way than this file; compare the fingerprint above with the "
        + "sheet, then give the certificate under “Authority for signers”.",
    };
  }
  try {
    const path = await requireSigner(signature, trust.anchors, moment.micros);
    if (trust.revocationLists.length) await requireNotRevoked(path, trust.revocationLists, moment.micros);
    const claimed = moment === document.claimedTime ? ", the time as claimed" : "";
    const revocation = trust.revocationLists.length ? "" : "; revocation was not checked (no list was given)";
    return step(
      6,
      "holds",
      `signed by ${subject} (key fingerprint ${shown}), certified by ${nameOf(path.at(-1)!)}, `
        + `valid at ${moment.text}${claimed}${revocation}`,
    );
  } catch (error) {
    return {
      ...step(
        6,
        "fails",
        `the certificate in the name of ${subject} does not lead to an anchor you gave `
          + `(key fingerprint ${shown})`,
      ),
      faults: [faultFrom(error, document.signatureName)],
      next: "Compare the fingerprint with the unit's sheet. Where it differs, the file was signed by "
        + "somebody else; where it agrees, ask the unit which authority issued it.",
    };
  }
}
