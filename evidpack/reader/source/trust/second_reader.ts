// A second opinion on a path, by the engine of pkijs: signatures, names, validity, constraints of
// names and of certificate policies, as RFC 5280, 6, has them.

import { fromBER } from "asn1js";
import { Certificate as Read, CertificateChainValidationEngine } from "pkijs";
import { Refusal } from "../refusal.ts";
import { type Certificate, nameOf } from "./certificates.ts";
import { same } from "../text.ts";

/** The engine must accept exactly this path, certificate first and anchor last. */
export async function requireSecondReading(path: Certificate[], at: number): Promise<void> {
  const anchor = path.at(-1)!;
  // The engine takes self-signed roots only; RFC 5280, 6.1.1, allows other anchors.
  if (!same(anchor.subject.raw, anchor.issuer.raw)) return;
  const read = path.map((one) => new Read({ schema: fromBER(Uint8Array.from(one.raw).buffer).result }));
  const engine = new CertificateChainValidationEngine({
    trustedCerts: [read.at(-1)!],
    // The engine takes the last one for the end certificate.
    certs: read.slice(0, -1).reverse(),
    checkDate: new Date(Math.floor(at / 1000)),
  });
  const answer = await engine.verify();
  if (answer.result) return;
  throw new Refusal(
    `no acceptable path leads from the certificate of ${nameOf(path[0])} to an anchor`,
    {
      expected: "two independent readers accept it",
      observed: answer.resultMessage || "the second reader refused it",
    },
  );
}
