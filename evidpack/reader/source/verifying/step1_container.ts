// Step 1: the container can be read in one way only.

import type { Archive } from "../container/archive.ts";
import * as layout from "../layout.ts";
import { MAX_STATEMENT_BYTES } from "../limits.ts";
import { NEWER_READER } from "../proof/statement.ts";
import { type Fault, faultFrom, Refusal } from "../refusal.ts";
import { compareText } from "../text.ts";
import { type Step, step } from "./report.ts";

export const ASK_AGAIN =
  "Keep this file as it is, and ask whoever gave it to you for it again, from where it was first " +
  "kept; compare the digests of the two.";

/** What to do about faults: a newer format is no sign that anything was changed. */
export const nextAfter = (faults: Fault[]): string =>
  faults.some(({ hint }) => hint === NEWER_READER) ? NEWER_READER : ASK_AGAIN;

/** Step 1 of a file that cannot be read in one way only, or not be decrypted. */
export function unreadable(error: unknown, path: string): Step {
  const fault = faultFrom(error, path);
  const hint = error instanceof Refusal && error.hint !== null ? `${error.hint} ` : "";
  return {
    ...step(1, "fails", "the file cannot be read in one way only, so nothing in it was examined"),
    faults: [fault],
    next: hint + ASK_AGAIN,
  };
}

/** Step 1 of an archive that the strict reader has read. */
export function oneReading(archive: Archive): Step {
  const bytes = archive.members.reduce((sum, member) => sum + member.size, 0);
  return step(1, "holds", `${archive.members.length} members, ${bytes} bytes, one reading only`);
}

/** The statement's bytes of a bundle. A failed step is returned alone. */
export function openBundle(archive: Archive): { statementBytes: Uint8Array; step: Step } | Step {
  try {
    requireOrder(archive);
    const statementBytes = archive.read(layout.STATEMENT, MAX_STATEMENT_BYTES);
    return { statementBytes, step: oneReading(archive) };
  } catch (error) {
    return { ...unreadable(error, archive.source.path), next: ASK_AGAIN };
  }
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
