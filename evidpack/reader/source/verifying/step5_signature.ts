// Step 5: the statement's bytes were signed by the key of the certificate that they name.

import { type Fault, faultFrom } from "../refusal.ts";
import { hex, same } from "../text.ts";
import { digestOf } from "../trust/keys.ts";
import { parseSignature } from "../trust/signature.ts";
import { requireMessage, type SignedMessage } from "../trust/signed_data.ts";
import { type Step, step } from "./report.ts";
import type { SignedDocument } from "./signed_document.ts";

export async function examineSignature(
  document: SignedDocument,
): Promise<{ signature: SignedMessage | null; step: Step }> {
  let signature: SignedMessage | null = null;
  const faults: Fault[] = [];
  const item = document.signatureName;
  if (document.signature === null) {
    faults.push({ item, message: "the signature is missing", expected: null, observed: null });
  } else {
    try {
      signature = parseSignature(document.signature, item);
      await requireMessage(signature, document.statement);
    } catch (error) {
      const fault = faultFrom(error, item);
      fault.message = `not a valid signature over ${document.statementName}: ${fault.message}`;
      faults.push(fault);
    }
  }
  const named = document.signingCertificate;
  if (signature !== null && named !== null) {
    const found = await digestOf("sha256", signature.certificate.raw);
    if (!same(found, named)) {
      faults.push({
        item,
        message: "the signing certificate is not the one that the statement names",
        expected: hex(named),
        observed: hex(found),
      });
    }
  }
  if (!faults.length) {
    return { signature, step: step(5, "holds", `the signature over ${document.statementName} is valid`) };
  }
  return {
    signature,
    step: {
      ...step(5, "fails", `the signature over ${document.statementName} is not valid`),
      faults,
      next: "Ask whoever gave you this file for it again, from where it was first kept.",
    },
  };
}
