// What the page and its workers say to one another.

import type { Report } from "../verifying/report.ts";
import type { DayView } from "./day_view.ts";
import type { PackView } from "./pack_view.ts";

/**
 * The certificates and revocation lists (DER) that the person at the screen brought, a time stamp that
 * was kept apart, and what they chose.
 */
export interface Choices {
  anchors: Uint8Array[];
  tsaAnchors: Uint8Array[];
  revocationLists: Uint8Array[];
  timeStamp: Uint8Array | null;
  acceptClaimedTime: boolean;
  verifiedAt: string;
}

/**
 * `verify` reads a file and judges it; where it is an encrypted pack, `unlock` must follow. `judge`
 * judges the same file again with other certificates; `member` asks for the bytes of one member of
 * its archive; `digest`, given to a worker of its own, computes the digest of the whole file.
 */
export type Order =
  | { task: "verify"; file: File; choices: Choices }
  | { task: "unlock"; passphrase: string; choices: Choices }
  | { task: "judge"; choices: Choices }
  | { task: "member"; ticket: number; name: string }
  | { task: "digest"; file: File };

export interface ShownMember {
  name: string;
  size: number;
}

/** What is shown of a file beside the report; `pack` is null for a bundle. */
export interface Contents {
  members: ShownMember[];
  day: DayView;
  pack: PackView | null;
}

export type News =
  | { news: "step"; number: number }
  | { news: "bytes"; done: number }
  /** An encrypted pack; `failure` after a passphrase with which it could not be opened. */
  | { news: "locked"; failure: string | null }
  | { news: "contents"; contents: Contents }
  | { news: "report"; report: Report }
  | { news: "member"; ticket: number; blob: Blob | null }
  | { news: "digest"; sha256: string }
  | { news: "defect"; message: string };
