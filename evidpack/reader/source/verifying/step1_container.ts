// Step 1: the container can be read in one way only.

import type { Archive } from "../container/archive.ts";
import { readArchive } from "../container/zip_reader.ts";
import * as layout from "../layout.ts";
import { MAX_STATEMENT_BYTES } from "../limits.ts";
import { faultFrom, Refusal } from "../refusal.ts";
import { compareText } from "../text.ts";
import { type Step, step } from "./report.ts";

export const ASK_AGAIN =
  "Keep this file as it is, and ask whoever gave it to you for it again, from where it was first " +
  "kept; compare the digests of the two.";

export interface Opened {
  archive: Archive;
  statementBytes: Uint8Array;
  step: Step;
}

/** The archive and its statement's bytes. A failed step is returned alone. */
export function openContainer(file: Blob, path: string): Opened | Step {
  try {
    const archive = readArchive(file, path);
    refusePack(archive);
    requireOrder(archive);
    const statementBytes = archive.read(layout.STATEMENT, MAX_STATEMENT_BYTES);
    const bytes = archive.members.reduce((sum, member) => sum + member.size, 0);
    const examined = `${archive.members.length} members, ${bytes} bytes, one reading only`;
    return { archive, statementBytes, step: step(1, "holds", examined) };
  } catch (error) {
    return {
      ...step(
        1, "fails", "the file cannot be read in one way only, so nothing in it was examined",
      ),
      faults: [faultFrom(error, path)],
      next: ASK_AGAIN,
    };
  }
}

/** A pack has another layout, and steps of its own. */
function refusePack(archive: Archive): void {
  if (archive.has(layout.STATEMENT) || !archive.has(layout.DISCLOSURE_STATEMENT)) return;
  throw new Refusal("this looks like a pack, and this edition of the reader verifies bundles only", {
    path: archive.source.path,
    expected: layout.STATEMENT,
    observed: layout.DISCLOSURE_STATEMENT,
  });
}

/** Payload by name, then the other files in the order of the format: one archive for one day. */
function requireOrder(archive: Archive): void {
  const names = archive.members.map((member) => member.name);
  const isPayload = (name: string): boolean => name.startsWith(layout.DATA);
  const known = names.filter((name) => isPayload(name) || layout.BUNDLE_TAG_ORDER.includes(name));
  const expected = [
    ...names.filter(isPayload).sort(compareText),
    ...layout.BUNDLE_TAG_ORDER.filter((name) => archive.has(name)),
  ];
  for (let at = 0; at < known.length; at++) {
    if (known[at] === expected[at]) continue;
    throw new Refusal("the members are not in the order of the format", {
      path: archive.source.path, expected: expected[at], observed: known[at],
    });
  }
}
