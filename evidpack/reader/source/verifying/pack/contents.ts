// What steps 3, 4 and 9 of a pack found out, and where their faults are collected.

import type { AccountingLine } from "../../proof/accounting.ts";
import type { JsonObject } from "../../proof/canonical.ts";
import type { Entry } from "../../proof/entries.ts";
import { Leaves, type RedactionRecord } from "../../proof/pack_parts.ts";
import { type Fault, faultFrom } from "../../refusal.ts";
import { compareText } from "../../text.ts";

const MAX_FAULTS = 1_000;

/** An entry that the pack opens, proved against its leaf. */
export interface RevealedEntry {
  line: AccountingLine;
  sealed: Entry;
  /** Opened values by name, on an object without prototype. */
  opened: JsonObject;
}

/** Names of the fields that were sealed and are not opened, sorted. */
export const closedOf = ({ sealed, opened }: RevealedEntry): string[] =>
  Object.keys(sealed.fields).filter((name) => !Object.hasOwn(opened, name)).sort(compareText);

export class PackContents {
  leaves = new Leaves(new Uint8Array(0));
  lines: AccountingLine[] = [];
  revealed: RevealedEntry[] = [];
  redactions = new Map<number, RedactionRecord>();
  /** Redacted copies that were proved, by name. */
  provedPictures = new Set<string>();
  readonly ledgerFaults: Fault[] = [];
  readonly contentFaults: Fault[] = [];
  readonly accountingFaults: Fault[] = [];
}

/** Keep a refusal as a fault, up to the limit; anything else is a defect and is thrown on. */
export function note(faults: Fault[], error: unknown, item: string): void {
  const fault = faultFrom(error, item);
  if (faults.length < MAX_FAULTS) faults.push(fault);
}
