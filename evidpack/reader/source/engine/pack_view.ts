// What a pack says of itself and of every sealed entry, gathered to be shown. Entries of which it says
// nothing but their kind are only counted: there may be many thousands.

import { type AccountingLine, type Became, countOutcomes, isNeutral, isRevealed } from "../proof/accounting.ts";
import type { DisclosureStatement } from "../proof/disclosure_statement.ts";
import type { RedactionRecord } from "../proof/pack_parts.ts";
import type { EntryKind } from "../proof/statement.ts";
import { hex } from "../text.ts";
import type { PackFound } from "../verifying/pack/examine_pack.ts";
import type { DayGatherer } from "./day_view.ts";

/** What the discloser states, as texts. */
export interface StatedDisclosure {
  pack: string;
  day: string;
  case: string;
  recipient: string;
  issue: number;
  previous: string | null;
  decidedBy: string;
  decidedAt: string;
  madeAt: string;
  verification: { verdict: string; at: string; report: string } | null;
  releaseLog: string | null;
}

/** An entry with an exhibit number. `proved` says whether it opened as it was sealed. */
export interface Exhibit extends AccountingLine {
  exhibit: number;
  proved: boolean;
}

export interface PackView {
  stated: StatedDisclosure | null;
  counts: Record<Became, number>;
  sealed: Record<EntryKind, number> | null;
  exhibits: Exhibit[];
  /** Entries of which nothing is said, by kind. */
  neutral: Record<EntryKind, number>;
  redactions: RedactionRecord[];
  /** Names of redacted copies that were proved tile by tile. */
  provedPictures: string[];
  /** Findings that were sealed, by outcome. */
  findings: Record<string, number> | null;
}

/** The view; what is revealed of the day goes to the gatherer, as a bundle's entries do. */
export function packView({ statement, origin, contents }: PackFound, gatherer: DayGatherer): PackView {
  const proved = new Set(contents.revealed.map(({ line }) => line.entry));
  for (const { line, opened } of contents.revealed) {
    gatherer.add(line.entry, line.kind, Object.fromEntries(Object.entries(opened)), true);
  }
  const neutral: Record<EntryKind, number> = { file: 0, record: 0, finding: 0 };
  const exhibits: Exhibit[] = [];
  for (const line of contents.lines) {
    if (isNeutral(line)) neutral[line.kind]++;
    else exhibits.push({ ...line, exhibit: line.exhibit!, proved: !isRevealed(line) || proved.has(line.entry) });
  }
  return {
    stated: statement === null ? null : stated(statement),
    counts: countOutcomes(contents.lines),
    sealed: origin?.entries ?? null,
    exhibits: exhibits.sort((one, other) => one.exhibit - other.exhibit),
    neutral,
    redactions: [...contents.redactions.values()],
    provedPictures: [...contents.provedPictures],
    findings: origin?.findings ?? null,
  };
}

function stated(statement: DisclosureStatement): StatedDisclosure {
  const { verification, previous, releaseLog } = statement;
  return {
    pack: statement.pack,
    day: statement.day,
    case: statement.case,
    recipient: statement.recipient,
    issue: statement.issue,
    previous: previous && hex(previous),
    decidedBy: statement.decidedBy,
    decidedAt: statement.decidedAt.text,
    madeAt: statement.claimedTime.text,
    verification: verification && {
      verdict: verification.verdict, at: verification.at.text, report: hex(verification.report),
    },
    releaseLog: releaseLog && hex(releaseLog),
  };
}
