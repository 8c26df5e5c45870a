// Step 4: each file entry against its file, each commitment against its opening (collected while
// the ledger was read), and no file without an entry or a signed digest.

import type { Archive } from "../container/archive.ts";
import type { Digests } from "../container/bag.ts";
import * as layout from "../layout.ts";
import type { SealStatement } from "../proof/statement.ts";
import type { Fault } from "../refusal.ts";
import { compareText, hex, same } from "../text.ts";
import { type Step, step } from "./report.ts";
import { nextAfter } from "./step1_container.ts";
import type { LedgerWalk } from "./step3_ledger.ts";

export function examineContents(
  archive: Archive, statement: SealStatement | null, walk: LedgerWalk | null, digests: Digests,
): Step {
  if (statement === null || walk === null) {
    return step(4, "not established", "contents were not examined: the ledger cannot be read");
  }
  const faults = [
    ...walk.contentFaults,
    ...compareFiles(archive, walk, digests),
    ...findStrangers(walk, digests),
    ...comparePinned(statement, digests),
  ];
  const examined =
    `${walk.files.size} files and ${walk.entries} entries opened against what was committed`;
  if (!faults.length) return step(4, "holds", examined);
  return { ...step(4, "fails", examined), faults, next: nextAfter(faults) };
}

function compareFiles(archive: Archive, walk: LedgerWalk, digests: Digests): Fault[] {
  const faults: Fault[] = [];
  for (const sealed of walk.files.values()) {
    const item = layout.DATA + sealed.path;
    const digest = digests.get(item);
    if (digest === undefined) {
      const message = `the file of entry ${sealed.entry} is missing`;
      faults.push({ item, message, expected: null, observed: null });
      continue;
    }
    const { size } = archive.member(item);
    if (same(digest, sealed.sha256) && size === sealed.size) continue;
    faults.push({
      item,
      message: `the file is not the one of entry ${sealed.entry}`,
      expected: `${sealed.size} bytes, SHA-256 ${hex(sealed.sha256)}`,
      observed: `${size} bytes, SHA-256 ${hex(digest)}`,
    });
  }
  return faults;
}

function findStrangers(walk: LedgerWalk, digests: Digests): Fault[] {
  const faults: Fault[] = [];
  for (const item of digests.keys()) {
    let message: string | null = null;
    if (item.startsWith(layout.DATA)) {
      if (!walk.files.has(item.slice(layout.DATA.length))) message = "the file has no ledger entry";
    } else if (!layout.BUNDLE_TAG_ORDER.includes(item)) {
      message = "a bundle of this format holds no such file";
    }
    if (message !== null) faults.push({ item, message, expected: null, observed: null });
  }
  return faults;
}

function comparePinned(statement: SealStatement, digests: Digests): Fault[] {
  const faults: Fault[] = [];
  const names = [...statement.pinned.keys()].sort(compareText);
  if (names.join() !== [...layout.PINNED_BY_SEAL].sort(compareText).join()) {
    faults.push({
      item: layout.STATEMENT,
      message: "the statement pins another set of files than the format says",
      expected: layout.PINNED_BY_SEAL.join(", "),
      observed: names.join(", ") || "none",
    });
  }
  for (const [item, signed] of statement.pinned) {
    const found = digests.get(item);
    if (found !== undefined && same(found, signed)) continue;
    faults.push({
      item,
      message: "the file is not the one whose digest was signed",
      expected: hex(signed),
      observed: found === undefined ? "missing" : hex(found),
    });
  }
  return faults;
}
