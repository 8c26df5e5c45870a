// Step 9: one line for each sealed entry, of its kind, with the counts and exhibits that were signed.

import type { Archive } from "../../container/archive.ts";
import * as layout from "../../layout.ts";
import {
  type AccountingLine, BECAME, type Became, countOutcomes, highestExhibit, parseAccountingLine,
} from "../../proof/accounting.ts";
import type { DisclosureStatement } from "../../proof/disclosure_statement.ts";
import { entryCount, kindAt, OUTCOMES, type SealStatement } from "../../proof/statement.ts";
import { Refusal } from "../../refusal.ts";
import { linesOf } from "../ledger_lines.ts";
import { type Step, step } from "../report.ts";
import { nextAfter } from "../step1_container.ts";
import { note, type PackContents } from "./contents.ts";

const PATH = layout.DISCLOSURE_ACCOUNTING;

export function examineAccounting(
  contents: PackContents, archive: Archive, origin: SealStatement,
  statement: DisclosureStatement | null,
): void {
  try {
    for (const data of linesOf(archive, PATH)) takeLine(contents.lines, data, origin);
    if (contents.lines.length !== entryCount(origin)) {
      throw new Refusal("the accounting leaves out sealed entries", {
        path: PATH, expected: `${entryCount(origin)} lines`, observed: String(contents.lines.length),
      });
    }
    const highest = highestExhibit(contents.lines);
    if (statement !== null) compareCounts(contents, statement, highest);
  } catch (error) {
    note(contents.accountingFaults, error, PATH);
  }
}

function takeLine(lines: AccountingLine[], data: Uint8Array, origin: SealStatement): void {
  const number = lines.length;
  const line = parseAccountingLine(data, PATH, number);
  if (number >= entryCount(origin) || line.kind !== kindAt(origin, number)) {
    throw new Refusal(`the accounting names an entry ${number} (${line.kind}) that was not sealed`, {
      path: PATH,
      line: number + 1,
      expected: `${entryCount(origin)} entries in the sealed order of kinds`,
      observed: `entry ${number} as ${line.kind}`,
    });
  }
  lines.push(line);
}

function compareCounts(
  contents: PackContents, statement: DisclosureStatement, highest: number,
): void {
  const counted = countOutcomes(contents.lines);
  if (BECAME.some((became) => counted[became] !== statement.accounting[became])) {
    contents.accountingFaults.push({
      item: PATH,
      message: "the counts that the statement claims are not those of the accounting",
      expected: said(counted),
      observed: said(statement.accounting),
    });
  }
  if (highest > statement.exhibits) {
    contents.accountingFaults.push({
      item: PATH,
      message: "an exhibit has a higher number than the statement says were given",
      expected: `at most ${statement.exhibits}`,
      observed: String(highest),
    });
  }
}

const said = (counts: Record<Became, number>): string =>
  BECAME.map((became) => `${counts[became]} ${became}`).join(", ");

export function accountingStep(contents: PackContents, origin: SealStatement | null): Step {
  if (origin === null) {
    return step(
      9, "not established", "the accounting was not examined: the seal statement cannot be read",
    );
  }
  const counts = countOutcomes(contents.lines);
  const became = BECAME.filter((one) => counts[one]).map((one) => `${counts[one]} ${one}`).join(", ");
  const examined = `${entryCount(origin)} sealed entries: ${became}; each once, with a reason. `
    + findingsSentence(contents, origin);
  const faults = contents.accountingFaults;
  if (!faults.length) return step(9, "holds", examined);
  return { ...step(9, "fails", examined), faults, next: nextAfter(faults) };
}

/** How many findings were sealed by outcome, and how many of each are opened here. */
function findingsSentence({ revealed }: PackContents, origin: SealStatement): string {
  const opened = new Map<string, number>();
  for (const { line, opened: values } of revealed) {
    const outcome = values.outcome;
    if (line.kind === "finding" && typeof outcome === "string") {
      opened.set(outcome, (opened.get(outcome) ?? 0) + 1);
    }
  }
  const told = OUTCOMES.filter((outcome) => origin.findings[outcome])
    .map((outcome) => `${opened.get(outcome) ?? 0} of ${origin.findings[outcome]} ${outcome}`);
  return `Findings disclosed: ${told.join(", ") || "none were sealed"}`;
}
