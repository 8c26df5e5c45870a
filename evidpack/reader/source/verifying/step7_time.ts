// Step 7: the time stamp, and with it the time at which the signer's path is to be checked.

import type { Moment } from "../moment.ts";
import { type Fault, faultFrom } from "../refusal.ts";
import { nameOf } from "../trust/certificates.ts";
import type { SignedMessage } from "../trust/signed_data.ts";
import {
  parseToken, requireClaimBefore, requireImprint, requireToken, type Token,
} from "../trust/timestamps.ts";
import { type Step, step } from "./report.ts";
import type { SignedDocument, Trust } from "./signed_document.ts";

export interface Timed {
  step: Step;
  moment: Moment | null;
}

export async function examineTime(
  document: SignedDocument, trust: Trust, signature: SignedMessage | null,
): Promise<Timed> {
  const claimed = document.claimedTime;
  if (document.signature === null || signature === null || claimed === null) {
    const why = "the time was not examined: the signature or the statement cannot be read";
    return { step: step(7, "not established", why), moment: claimed };
  }
  if (document.token === null) return { step: withoutToken(document, claimed), moment: claimed };
  let token: Token;
  try {
    token = await parseToken(document.token, document.tokenName);
    await requireImprint(token, document.signature);
    requireClaimBefore(token, claimed);
    if (!trust.tsaAnchors.length) return { step: withoutAnchor(token), moment: claimed };
    await requireToken(token, document.signature, trust.tsaAnchors);
  } catch (error) {
    return { step: fails(faultFrom(error, document.tokenName)), moment: claimed };
  }
  const examined = `the signature existed at ${token.genTime.text}, by a time stamp from `
    + nameOf(token.signed.certificate);
  return { step: step(7, "holds", examined), moment: token.genTime };
}

function withoutAnchor(token: Token): Step {
  return {
    ...step(
      7,
      "not established",
      `a time stamp of ${token.genTime.text} covers this signature, but no authority that you `
        + "trust was given to check it with",
    ),
    next: "Ask for the time-stamp authority's root certificate, from the authority itself or from "
      + "the sealer's unit by another way than this file, compare its fingerprint, and give it "
      + "under “Authority for time stamps”.",
  };
}

function withoutToken(document: SignedDocument, claimed: Moment): Step {
  if (document.timeStampRequired) {
    return fails({
      item: document.tokenName,
      message: "the statement says that a time stamp must accompany it, and there is none",
      expected: "a time-stamp token",
      observed: "none",
    });
  }
  return {
    ...step(
      7,
      "not established",
      `no time stamp: ${claimed.text} is the time as claimed by the ${document.whose}`,
    ),
    next: "If the time matters, ask the unit whether a time stamp was obtained apart, or whether the "
      + "digest of the seal statement was given to anybody else on the day. The box “Accept the "
      + "time as claimed” accepts the claim, and the result says so.",
  };
}

function fails(fault: Fault): Step {
  return {
    ...step(7, "fails", "the time stamp does not establish a time for this signature"),
    faults: [fault],
    next: "Ask the sealer's unit for the bundle again, and check that the anchor you gave is that of "
      + "the time-stamp authority it used.",
  };
}
