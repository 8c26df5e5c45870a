// What the page and its workers say to one another.

import type { Report } from "../verifying/report.ts";
import type { DayView } from "./day_view.ts";

/** The certificates (DER) that the person at the screen brought, and what they chose. */
export interface Choices {
  anchors: Uint8Array[];
  tsaAnchors: Uint8Array[];
  acceptClaimedTime: boolean;
  verifiedAt: string;
}

/**
 * `verify` reads a file and judges it; `judge` judges the same file again with other certificates;
 * `digest`, given to a worker of its own, computes the digest of the whole file.
 */
export type Order =
  | { task: "verify"; file: File; choices: Choices }
  | { task: "judge"; choices: Choices }
  | { task: "digest"; file: File };

export interface ShownMember {
  name: string;
  offset: number;
  size: number;
}

/** What is shown of a file beside the report. */
export interface Contents {
  members: ShownMember[];
  day: DayView;
}

export type News =
  | { news: "step"; number: number }
  | { news: "bytes"; done: number }
  | { news: "contents"; contents: Contents }
  | { news: "report"; report: Report }
  | { news: "digest"; sha256: string }
  | { news: "defect"; message: string };
