// What a bundle's openings say of the day, gathered while the ledger is read, to be shown. Nothing
// here decides anything: each item says whether its entry opened as it was sealed.

import type { JsonObject, JsonValue } from "../proof/canonical.ts";
import { own } from "../proof/canonical.ts";
import type { EntryKind } from "../proof/statement.ts";

/** One entry with its values; in a bundle raw cells are left out of records to save memory. */
export interface ShownEntry {
  entry: number;
  values: JsonObject;
  holds: boolean;
}

export interface DayView {
  files: ShownEntry[];
  /** Records by kind; those of `COUNTED_ONLY` kinds are only counted. */
  records: Record<string, ShownEntry[]>;
  counts: Record<string, number>;
  findings: ShownEntry[];
}

// There may be one for each frame of a clip, and none is shown by itself.
const COUNTED_ONLY = new Set(["frame_time"]);

export class DayGatherer {
  readonly view: DayView = { files: [], records: Object.create(null), counts: Object.create(null), findings: [] };

  constructor(private readonly withRawCells: boolean) {}

  add(entry: number, kind: EntryKind, values: JsonObject, holds: boolean): void {
    if (kind === "file") this.view.files.push({ entry, values, holds });
    else if (kind === "finding") this.view.findings.push({ entry, values, holds });
    else this.#addRecord(entry, values, holds);
  }

  #addRecord(entry: number, values: JsonObject, holds: boolean): void {
    const kind = text(own(values, "record_kind")) ?? "of an unknown kind";
    this.view.counts[kind] = (this.view.counts[kind] ?? 0) + 1;
    if (COUNTED_ONLY.has(kind)) return;
    const shown: JsonObject = {};
    for (const [name, value] of Object.entries(values)) {
      const raw = name.startsWith("raw:");
      if (name !== "__proto__" && (this.withRawCells || !raw)) shown[name] = value;
    }
    (this.view.records[kind] ??= []).push({ entry, values: shown, holds });
  }
}

const text = (value: JsonValue | undefined): string | null =>
  typeof value === "string" ? value : null;
