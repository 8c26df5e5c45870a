// The day as it is shown: captures with their readings, stills and findings brought together.

import type { DayView, ShownEntry } from "../engine/day_view.ts";
import type { Contents, ShownMember } from "../engine/messages.ts";
import type { PackView } from "../engine/pack_view.ts";
import type { RedactionRecord } from "../proof/pack_parts.ts";
import type { Report } from "../verifying/report.ts";
import { type JsonObject, type JsonValue, own } from "../proof/canonical.ts";

/** A still or clip of a capture that is in the file: the original, or a redacted copy of a still. */
export interface ShownItem {
  /** Its path in the export, or which exhibit it is a copy of. */
  title: string;
  /** Its name in the archive. */
  name: string;
  record: ShownEntry | null;
  file: ShownEntry | null;
  redaction: RedactionRecord | null;
}

export interface ShownCapture {
  number: number;
  capture: ShownEntry;
  reading: ShownEntry | null;
  stills: ShownItem[];
  clips: ShownItem[];
  session: string | null;
  findings: ShownEntry[];
  reviews: ShownEntry[];
}

/** Gives the bytes of a member of the archive; null where there is none. */
export type Fetcher = (name: string) => Promise<Blob | null>;

export interface Day {
  view: DayView;
  pack: PackView | null;
  members: ShownMember[];
  captures: ShownCapture[];
  /** The file entry by its path under the data folder. */
  files: Map<string, ShownEntry>;
  /** What is said over everything where the file does not verify; null where it does. */
  warning: string | null;
  /** Whether a step found something wrong with this member of the archive. */
  isFaulty(name: string): boolean;
  has(name: string): boolean;
  fetch: Fetcher;
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
  { members, day: view, pack }: Contents, report: Report, warning: string | null, fetch: Fetcher,
): Day {
  const faulty = new Set(report.steps.flatMap(({ faults }) => faults.map(({ item }) => item)));
  const names = new Set(members.map(({ name }) => name));
  const files = byPath(view.files);
  return {
    view,
    pack,
    members,
    captures: capturesOf(view, new Items(view, pack, files, names)),
    files,
    warning,
    isFaulty: (name) => faulty.has(name),
    has: (name) => names.has(name),
    fetch,
  };
}

/** Which stills and clips of a capture are in the file. */
class Items {
  readonly #records: Map<string, ShownEntry>;
  readonly #copies = new Map<number, { name: string; title: string; redaction: RedactionRecord }>();

  constructor(
    private readonly view: DayView, pack: PackView | null,
    private readonly files: Map<string, ShownEntry>, names: Set<string>,
  ) {
    this.#records = byPath(records(view, "still"));
    for (const redaction of pack?.redactions ?? []) {
      const { entry, exhibit } = redaction;
      const name = `data/redacted/exhibit-${exhibit}.png`;
      if (names.has(name)) this.#copies.set(entry, { name, title: `exhibit ${exhibit}, redacted copy`, redaction });
    }
  }

  of(paths: string[]): ShownItem[] {
    return paths.map((path) => ({
      title: path,
      name: `data/${path}`,
      record: this.#records.get(path) ?? null,
      file: this.files.get(path) ?? null,
      redaction: null,
    }));
  }

  /** Redacted copies of a capture's stills: their paths stay closed, but the still's record says so. */
  copiesFor(number: number): ShownItem[] {
    const found: ShownItem[] = [];
    for (const record of records(this.view, "still")) {
      const { captures, source_entry: source } = record.values;
      const copy = typeof source === "number" ? this.#copies.get(source) : undefined;
      if (copy !== undefined && Array.isArray(captures) && captures.includes(number)) {
        found.push({ ...copy, record, file: null });
      }
    }
    return found;
  }
}

function byPath(entries: ShownEntry[]): Map<string, ShownEntry> {
  const found = new Map<string, ShownEntry>();
  for (const entry of entries) {
    const path = textOf(entry.values, "path");
    if (path !== null) found.set(path, entry);
  }
  return found;
}

function capturesOf(view: DayView, items: Items): ShownCapture[] {
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
      stills: [...items.of(list(own(values, "stills"))), ...items.copiesFor(number)],
      clips: items.of(list(own(values, "clips"))),
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
