// The accounting of a pack: one line for each sealed entry, in ledger order, that says what became
// of it (docs/format.md, Accounting).

import { Refusal } from "../refusal.ts";
import { compareText, isBlank } from "../text.ts";
import { parseCanonical } from "./canonical.ts";
import { Members } from "./members.ts";
import { ENTRY_KINDS, type EntryKind } from "./statement.ts";

export const MAX_EXHIBIT = 10_000_000;
export const NEUTRAL_REASON = "Not due to this recipient.";
export const NEUTRAL_WORDING =
  "Not disclosed here: data of other people, or material that is not due to this recipient.";
export const USES = ["relied on", "unused", "not relevant"] as const;
export const BECAME = ["released", "redacted", "inspect", "withheld", "withdrawn"] as const;
export type Became = (typeof BECAME)[number];

/** One entry's line. `closed` names the fields of a redacted entry that stay closed, sorted. */
export interface AccountingLine {
  entry: number;
  kind: EntryKind;
  became: Became;
  reason: string;
  use: string | null;
  exhibit: number | null;
  description: string | null;
  closed: string[];
}

export const isRevealed = ({ became }: AccountingLine): boolean =>
  became === "released" || became === "redacted";

/** Whether this is the one form that says nothing of the entry but its kind. */
export const isNeutral = ({ became, exhibit }: AccountingLine): boolean =>
  became === "withheld" && exhibit === null;

/** Read the line of entry `number` (from 0) strictly. Throws a Refusal with path and line. */
export function parseAccountingLine(data: Uint8Array, path: string, number: number): AccountingLine {
  try {
    const value = parseCanonical(data, path, number + 1);
    const members = new Members(value, path, `the accounting of entry ${number}`);
    const line: AccountingLine = {
      entry: members.integer("entry"),
      kind: members.choice("kind", ENTRY_KINDS) as EntryKind,
      became: members.choice("became", BECAME) as Became,
      reason: members.text("reason"),
      use: members.optional("use", members.text),
      exhibit: members.optional("exhibit", members.integer),
      description: members.optional("description", members.text),
      closed: members.textList("closed"),
    };
    members.finish();
    requireSensible(line, number, members);
    return line;
  } catch (error) {
    if (error instanceof Refusal) error.line = number + 1;
    throw error;
  }
}

/** The rules that hold for a line by itself. */
function requireSensible(line: AccountingLine, number: number, members: Members): void {
  if (line.entry !== number) {
    throw new Refusal("the accounting does not take the entries one after the other", {
      path: members.path, expected: `entry ${number}`, observed: `entry ${line.entry}`,
    });
  }
  if (isBlank(line.reason)) throw members.wrong("reason", "a reason");
  if (isNeutral(line)) return requireNeutralForm(line, members);
  if (line.exhibit === null || line.exhibit < 1 || line.exhibit > MAX_EXHIBIT) {
    throw members.wrong("exhibit", `a number from 1 to ${MAX_EXHIBIT}`);
  }
  if (!(USES as readonly (string | null)[]).includes(line.use)) {
    throw members.wrong("use", USES.join(" or "));
  }
  if (line.description === null || isBlank(line.description)) {
    throw members.wrong("description", "a description");
  }
  const inOrder = line.closed.every((name, at) => at === 0 || compareText(line.closed[at - 1], name) < 0);
  if (!inOrder) throw members.wrong("closed", "names in order, each once");
  if (line.closed.length > 0 !== (line.became === "redacted")) {
    throw members.wrong("closed", "names of fields, in a redacted entry and nowhere else");
  }
}

function requireNeutralForm(line: AccountingLine, members: Members): void {
  const neutral = line.use === null && !line.closed.length && line.reason === NEUTRAL_REASON
    && line.description === NEUTRAL_WORDING;
  if (!neutral) throw members.wrong("became", "the neutral form, where there is no exhibit");
}

/** How many entries became what, every outcome named. */
export function countOutcomes(lines: readonly AccountingLine[]): Record<Became, number> {
  const counts = Object.fromEntries(BECAME.map((became) => [became, 0])) as Record<Became, number>;
  for (const { became } of lines) counts[became]++;
  return counts;
}

/** The highest exhibit number, 0 for none. Throws a Refusal where two entries have the same. */
export function highestExhibit(lines: readonly AccountingLine[]): number {
  const seen = new Map<number, number>();
  let highest = 0;
  for (const { entry, exhibit } of lines) {
    if (exhibit === null) continue;
    const before = seen.get(exhibit);
    if (before !== undefined) {
      throw new Refusal(`exhibit ${exhibit} stands for two entries`, {
        expected: `entry ${before} alone`, observed: `entry ${entry} too`,
      });
    }
    seen.set(exhibit, entry);
    highest = Math.max(highest, exhibit);
  }
  return highest;
}
