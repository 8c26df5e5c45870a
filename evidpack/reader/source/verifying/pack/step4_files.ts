// Step 4 of a pack, second part: every pinned digest, and each file under data/ is a released
// original, a redacted copy, or a table made from the opened fields.

import type { Archive } from "../../container/archive.ts";
import type { Digests } from "../../container/bag.ts";
import * as layout from "../../layout.ts";
import { MAX_TAG_FILE_BYTES } from "../../limits.ts";
import { own } from "../../proof/canonical.ts";
import type { DisclosureStatement } from "../../proof/disclosure_statement.ts";
import type { Digester } from "../../proof/digests.ts";
import { compareText, hex, same } from "../../text.ts";
import { type Step, step } from "../report.ts";
import { nextAfter } from "../step1_container.ts";
import { closedOf, note, type PackContents, type RevealedEntry } from "./contents.ts";
import { derivedTables } from "./derived_tables.ts";
import { examinePictures } from "./step4_pictures.ts";

/** Every other file of the pack is pinned by the statement, and nothing else is. */
export function comparePinned(
  contents: PackContents, statement: DisclosureStatement, digests: Digests,
): void {
  const names = new Set([...digests.keys(), ...statement.pinned.keys()]);
  for (const item of [...names].sort(compareText)) {
    const unpinned = layout.NOT_PINNED_BY_DISCLOSURE.includes(item);
    const found = unpinned ? undefined : digests.get(item);
    const signed = statement.pinned.get(item);
    if (found === undefined ? signed === undefined : signed !== undefined && same(found, signed)) continue;
    contents.contentFaults.push({
      item,
      message: "the file is not the one whose digest was signed",
      expected: signed === undefined ? "no such file" : hex(signed),
      observed: found === undefined ? "missing" : hex(found),
    });
  }
}

export async function examineFiles(
  contents: PackContents, archive: Archive, digests: Digests, digester: Digester,
): Promise<void> {
  const expected = new Set<string>();
  const pictures: RevealedEntry[] = [];
  for (const one of contents.revealed) {
    if (one.line.kind !== "file") continue;
    if (one.line.became === "released") expected.add(examineOriginal(contents, one, archive, digests));
    else pictures.push(one);
  }
  for (const name of await examinePictures(contents, pictures, archive, digester)) expected.add(name);
  for (const name of examineTables(contents, archive)) expected.add(name);
  for (const item of digests.keys()) {
    if (!item.startsWith(layout.DATA) || expected.has(item)) continue;
    const message = "the file belongs to no released or redacted entry";
    contents.contentFaults.push({ item, message, expected: null, observed: null });
  }
}

function examineOriginal(
  contents: PackContents, { line, opened }: RevealedEntry, archive: Archive, digests: Digests,
): string {
  const value = own(opened, "path");
  const path = typeof value === "string" ? value : "None";
  const item = layout.DATA + path;
  if (!archive.has(item) || !/^(?:export|office)\//.test(path)) {
    const message = `the released file of entry ${line.entry} is missing`;
    contents.contentFaults.push({ item, message, expected: null, observed: null });
    return item;
  }
  const { size } = archive.member(item);
  const digest = hex(digests.get(item) ?? new Uint8Array(0));
  const [sealedSize, sealedDigest] = [own(opened, "size"), own(opened, "sha256")];
  if (digest !== sealedDigest || size !== sealedSize) {
    contents.contentFaults.push({
      item,
      message: `the file is not the one of entry ${line.entry}`,
      expected: `${sealedSize} bytes, SHA-256 ${sealedDigest}`,
      observed: `${size} bytes, SHA-256 ${digest}`,
    });
  }
  return item;
}

function examineTables(contents: PackContents, archive: Archive): string[] {
  const rows = contents.revealed.filter(({ line }) => line.kind !== "file").map((one) => ({
    entry: one.line.entry, exhibit: one.line.exhibit ?? 0, opened: one.opened, closed: closedOf(one),
  }));
  const tables = derivedTables(rows);
  for (const [item, data] of tables) {
    try {
      const found = archive.read(item, MAX_TAG_FILE_BYTES);
      if (same(found, data)) continue;
      contents.contentFaults.push({
        item,
        message: "the rendering does not come out the same from the opened fields",
        expected: `${data.length} bytes made from disclosure/openings.jsonl`,
        observed: `${found.length} others`,
      });
    } catch (error) {
      note(contents.contentFaults, error, item);
    }
  }
  return [...tables.keys()];
}

export function contentStep(contents: PackContents): Step {
  const faults = contents.contentFaults;
  if (!faults.length && (contents.ledgerFaults.length || contents.accountingFaults.length)) {
    return step(
      4, "not established", "contents were not examined: leaf digests or accounting do not hold",
    );
  }
  const files = contents.revealed.filter(({ line }) => line.kind === "file").length;
  const examined = `${contents.revealed.length} entries are the sealed ones and open as they were `
    + `committed; ${files} of them are files, each the original or a redacted copy of it`;
  if (!faults.length) return step(4, "holds", examined);
  return { ...step(4, "fails", examined), faults, next: nextAfter(faults) };
}
