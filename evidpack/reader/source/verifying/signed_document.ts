// A statement with its signature and token, as bytes, and what the verifier trusts.

import type { Moment } from "../moment.ts";
import type { Certificate } from "../trust/certificates.ts";
import type { RevocationList } from "../trust/revocation_lists.ts";

/** What a statement claims is null where the statement cannot be read. */
export interface SignedDocument {
  whose: "sealer" | "discloser";
  statement: Uint8Array;
  signature: Uint8Array | null;
  token: Uint8Array | null;
  statementName: string;
  signatureName: string;
  tokenName: string;
  claimedTime: Moment | null;
  signingCertificate: Uint8Array | null;
  timeStampRequired: boolean;
}

/** The certificates and revocation lists that the person at the screen brought. */
export interface Trust {
  anchors: Certificate[];
  tsaAnchors: Certificate[];
  revocationLists: RevocationList[];
}
