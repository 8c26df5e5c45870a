// Step 4 of a pack, for redacted copies: each with its redaction record and its tiles, and neither
// record nor tiles without a copy.

import type { Archive } from "../../container/archive.ts";
import * as layout from "../../layout.ts";
import { MAX_STILL_BYTES, MAX_TAG_FILE_BYTES } from "../../limits.ts";
import { own } from "../../proof/canonical.ts";
import type { Digester } from "../../proof/digests.ts";
import { parseRedaction, parseTiles, type RedactionRecord } from "../../proof/pack_parts.ts";
import { Refusal } from "../../refusal.ts";
import { compareText, unhex } from "../../text.ts";
import { linesOf } from "../ledger_lines.ts";
import { note, type PackContents, type RevealedEntry } from "./contents.ts";
import { requireRedactedCopy } from "./redacted_copy.ts";

export const pictureName = (exhibit: number): string => `${layout.REDACTED}exhibit-${exhibit}.png`;
const tilesName = (exhibit: number): string => `${layout.DISCLOSURE_TILES}exhibit-${exhibit}.txt`;
const exhibitOf = ({ line }: RevealedEntry): number => line.exhibit ?? 0;

/** Names of the copies that must be there. */
export async function examinePictures(
  contents: PackContents, pictures: RevealedEntry[], archive: Archive, digester: Digester,
): Promise<string[]> {
  readRedactions(contents, archive);
  const unused = new Set(contents.redactions.keys());
  for (const one of pictures) {
    const name = pictureName(exhibitOf(one));
    const record = contents.redactions.get(one.line.entry) ?? null;
    unused.delete(one.line.entry);
    try {
      await requirePicture(one, record, archive, digester);
      contents.provedPictures.add(name);
    } catch (error) {
      note(contents.contentFaults, error, name);
    }
  }
  for (const entry of unused) {
    const message = `there is a redaction record for entry ${entry}, which is not redacted`;
    contents.contentFaults.push({
      item: layout.DISCLOSURE_REDACTIONS, message, expected: null, observed: null,
    });
  }
  const tiles = new Set(pictures.map((one) => tilesName(exhibitOf(one))));
  for (const { name: item } of archive.members) {
    if (!item.startsWith(layout.DISCLOSURE_TILES) || tiles.has(item)) continue;
    const message = "these tiles belong to no redacted copy";
    contents.contentFaults.push({ item, message, expected: null, observed: null });
  }
  return pictures.map((one) => pictureName(exhibitOf(one)));
}

function readRedactions(contents: PackContents, archive: Archive): void {
  const path = layout.DISCLOSURE_REDACTIONS;
  if (!archive.has(path)) return;
  let number = 0;
  try {
    for (const line of linesOf(archive, path)) {
      const record = parseRedaction(line, path, ++number);
      if (contents.redactions.has(record.entry)) {
        throw new Refusal("an entry has two redaction records", { path, line: number });
      }
      contents.redactions.set(record.entry, record);
    }
  } catch (error) {
    note(contents.contentFaults, error, path);
  }
}

async function requirePicture(
  one: RevealedEntry, record: RedactionRecord | null, archive: Archive, digester: Digester,
): Promise<void> {
  const exhibit = exhibitOf(one);
  const path = pictureName(exhibit);
  const tiles = tilesName(exhibit);
  const openings = parseTiles(archive.read(tiles, MAX_TAG_FILE_BYTES), tiles);
  const closed = [...openings.closed.keys()];
  if (record === null || record.exhibit !== exhibit || record.tiles.join() !== closed.join()) {
    throw new Refusal("the redaction record is missing, or is about other tiles than those closed", {
      path: layout.DISCLOSURE_REDACTIONS,
      expected: `exhibit ${exhibit}, ${closed.length} tiles`,
      observed: record === null ? "none" : `exhibit ${record.exhibit}, ${record.tiles.length}`,
    });
  }
  const [width, height] = [own(one.opened, "width_px"), own(one.opened, "height_px")];
  const root = own(one.opened, "pixel_root");
  const pixelRoot = typeof root === "string" ? unhex(root) : null;
  if (!Number.isSafeInteger(width) || !Number.isSafeInteger(height) || pixelRoot?.length !== 32) {
    throw new Refusal("a redacted copy needs the size and the pixel root opened", {
      path,
      expected: "width_px, height_px and pixel_root",
      observed: Object.keys(one.opened).sort(compareText).join(", "),
    });
  }
  await requireRedactedCopy(archive.read(path, MAX_STILL_BYTES), {
    path, width: width as number, height: height as number, pixelRoot, openings,
  }, digester);
}
