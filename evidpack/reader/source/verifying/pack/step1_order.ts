// Step 1 of a pack, beyond the container: its two statements are there, and its files are those of
// the format, in order.

import type { Archive } from "../../container/archive.ts";
import * as layout from "../../layout.ts";
import { MAX_DISCLOSURE_STATEMENT_BYTES, MAX_STATEMENT_BYTES } from "../../limits.ts";
import { faultFrom, Refusal } from "../../refusal.ts";
import { compareText } from "../../text.ts";
import { type Step, step } from "../report.ts";
import { ASK_AGAIN, oneReading } from "../step1_container.ts";

export interface PackStatements {
  statementBytes: Uint8Array;
  originBytes: Uint8Array;
  step: Step;
}

/** Whether an archive claims to be a pack: it holds a statement of either kind of a pack. */
export const isPack = (archive: Archive): boolean =>
  archive.has(layout.DISCLOSURE_STATEMENT) || archive.has(layout.ORIGIN_STATEMENT);

/** Both statements' bytes. A failed step is returned alone. */
export function openPack(archive: Archive): PackStatements | Step {
  try {
    requireOrder(archive);
    const statementBytes = archive.read(layout.DISCLOSURE_STATEMENT, MAX_DISCLOSURE_STATEMENT_BYTES);
    const originBytes = archive.read(layout.ORIGIN_STATEMENT, MAX_STATEMENT_BYTES);
    return { statementBytes, originBytes, step: oneReading(archive) };
  } catch (error) {
    return {
      ...step(1, "fails", "the file is no pack of this format, so nothing in it was examined"),
      faults: [faultFrom(error, archive.source.path)],
      next: ASK_AGAIN,
    };
  }
}

/** Payload by name, then the other files in the order of the format, and no stranger. */
function requireOrder(archive: Archive): void {
  const { path } = archive.source;
  const places = new Map(layout.PACK_TAG_ORDER.map((name, place) => [name, place]));
  const placeOf = (name: string): number => {
    if (name.startsWith(layout.DATA)) return -1;
    const group = name.startsWith(layout.DISCLOSURE_TILES) ? layout.DISCLOSURE_TILES : name;
    const place = places.get(group);
    if (place !== undefined) return place;
    throw new Refusal("a pack of this format holds no such file", {
      path, expected: "the files that the format names", observed: name,
    });
  };
  const placed = archive.members.map(({ name }) => ({ name, place: placeOf(name) }));
  const sorted = [...placed].sort((one, other) =>
    one.place - other.place || compareText(one.name, other.name));
  for (const [at, { name }] of placed.entries()) {
    if (name === sorted[at].name) continue;
    throw new Refusal("the members are not in the order of the format", {
      path, expected: sorted[at].name, observed: name,
    });
  }
}
