// The day as it is shown: captures with their readings, stills and findings brought together.

import type { DayView, ShownEntry } from "../engine/day_view.ts";
import type { Contents, ShownMember } from "../engine/messages.ts";
import type { Report } from "../verifying/report.ts";
import { type JsonObject, type JsonValue, own } from "../proof/canonical.ts";

export interface ShownCapture {
  number: number;
  capture: ShownEntry;
  reading: ShownEntry | null;
  stills: string[];
  clips: string[];
  session: string | null;
  findings: ShownEntry[];
  reviews: ShownEntry[];
}

export interface Day {
  file: File;
  view: DayView;
  members: ShownMember[];
  captures: ShownCapture[];
  /** The file entry by its path under the data folder. */
  files: Map<string, ShownEntry>;
  /** The still's own record by its path. */
  stills: Map<string, ShownEntry>;
  /** What is said over everything where the file does not verify; null where it does. */
  warning: string | null;
  /** Whether a step found something wrong with this member of the archive. */
  isFaulty(name: string): boolean;
  blob(path: string, type?: string): Blob | null;
}

export const textOf = (values: JsonObject, name: string): string | null => {
  const value = own(values, name);
  return typeof value === "string" ? value : null;
};

const list = (value: JsonValue | undefined): string[] =>
  Array.isArray(value) ? value.filter((one): one is string => typeof one === "string") : [];

export const records = (view: DayView, kind: string): ShownEntry[] => view.records[kind] ?? [];

/** Where a record was read: captures stand on the line of their reading. */
const place = ({ values }: ShownEntry): string => `${values.source_entry}:${values.source_line}`;

export function dayOf(
  file: File, { members, day: view }: Contents, report: Report, warning: string | null,
): Day {
  const faulty = new Set(report.steps.flatMap(({ faults }) => faults.map(({ item }) => item)));
  const places = new Map(members.map((member) => [member.name, member]));
  return {
    file,
    view,
    members,
    captures: capturesOf(view),
    files: byPath(view.files),
    stills: byPath(records(view, "still")),
    warning,
    isFaulty: (name) => faulty.has(name),
    blob(path, type = "application/octet-stream") {
      const member = places.get(path);
      return member === undefined ? null : file.slice(member.offset, member.offset + member.size, type);
    },
  };
}

function byPath(entries: ShownEntry[]): Map<string, ShownEntry> {
  const found = new Map<string, ShownEntry>();
  for (const entry of entries) {
    const path = textOf(entry.values, "path");
    if (path !== null) found.set(path, entry);
  }
  return found;
}

function capturesOf(view: DayView): ShownCapture[] {
  const readings = new Map(records(view, "reading").map((reading) => [place(reading), reading]));
  const findings = findingsByCapture(view.findings);
  const reviews = groupBy(records(view, "review"), ({ values }) => textOf(values, "capture"));
  return records(view, "capture").map((capture): ShownCapture => {
    const { values } = capture;
    const number = typeof values.number === "number" ? values.number : 0;
    return {
      number,
      capture,
      reading: readings.get(place(capture)) ?? null,
      stills: list(own(values, "stills")),
      clips: list(own(values, "clips")),
      session: textOf(values, "session"),
      findings: findings.get(number) ?? [],
      reviews: reviews.get(textOf(values, "capture") ?? "") ?? [],
    };
  }).sort((one, other) => one.number - other.number);
}

/** Findings name captures by number: as their subject, or in their sentence. */
function findingsByCapture(findings: ShownEntry[]): Map<number, ShownEntry[]> {
  const found = new Map<number, ShownEntry[]>();
  for (const finding of findings) {
    const subject = textOf(finding.values, "subject") ?? "";
    const numbers = new Set(numbersIn(subject));
    if (finding.values.adverse === true) {
      for (const number of numbersIn(textOf(finding.values, "sentence") ?? "")) numbers.add(number);
    }
    for (const number of numbers) found.set(number, [...(found.get(number) ?? []), finding]);
  }
  return found;
}

/** The numbers in “capture 7”, “captures 3, 5 and 7” or “captures 1–4”. */
export function numbersIn(text: string): number[] {
  const numbers: number[] = [];
  for (const [, tail] of text.matchAll(/\bcaptures? ((?:\d+(?:[–-]\d+)?(?:, | and )?)+)/g)) {
    for (const [, first, last] of tail.matchAll(/(\d+)(?:[–-](\d+))?/g)) {
      const end = Math.min(Number(last ?? first), Number(first) + 100_000);
      for (let number = Number(first); number <= end; number++) numbers.push(number);
    }
  }
  return numbers;
}

function groupBy(entries: ShownEntry[], key: (entry: ShownEntry) => string | null): Map<string, ShownEntry[]> {
  const groups = new Map<string, ShownEntry[]>();
  for (const entry of entries) {
    const name = key(entry);
    if (name !== null) groups.set(name, [...(groups.get(name) ?? []), entry]);
  }
  return groups;
}
