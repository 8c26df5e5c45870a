// Step 4 of a pack, first part: each revealed entry is the sealed one, and each opened field was
// committed to.

import type { Archive } from "../../container/archive.ts";
import * as layout from "../../layout.ts";
import { type AccountingLine, isRevealed } from "../../proof/accounting.ts";
import { canonicalText, type JsonObject, type JsonValue } from "../../proof/canonical.ts";
import type { Digester } from "../../proof/digests.ts";
import { type Entry, parseEntry } from "../../proof/entries.ts";
import { type PackOpening, parsePackOpening } from "../../proof/pack_parts.ts";
import { Refusal } from "../../refusal.ts";
import { begin, compareText, hex, same } from "../../text.ts";
import { linesOf } from "../ledger_lines.ts";
import { closedOf, note, type PackContents, type RevealedEntry } from "./contents.ts";

const SHOWN_CHARACTERS = 120;

export function examineRevealed(contents: PackContents, archive: Archive, digester: Digester): void {
  const wanted = contents.lines.filter(isRevealed);
  archive.member(layout.DISCLOSURE_ENTRIES);
  archive.member(layout.DISCLOSURE_OPENINGS);
  const entries = linesOf(archive, layout.DISCLOSURE_ENTRIES);
  const openings = linesOf(archive, layout.DISCLOSURE_OPENINGS);
  const examiner = new Examiner(contents, digester);
  try {
    for (const [at, line] of wanted.entries()) {
      const sealed = entries.next();
      const opening = openings.next();
      if (sealed.done || opening.done) {
        throw new Refusal(`entry ${line.entry} is said to be ${line.became}, and is not revealed`, {
          path: sealed.done ? layout.DISCLOSURE_ENTRIES : layout.DISCLOSURE_OPENINGS,
          expected: `${wanted.length} lines`,
          observed: String(at),
        });
      }
      examiner.examine(line, sealed.value, opening.value, at + 1);
    }
    requireEnd(entries, layout.DISCLOSURE_ENTRIES, wanted.length);
    requireEnd(openings, layout.DISCLOSURE_OPENINGS, wanted.length);
  } catch (error) {
    note(contents.contentFaults, error, layout.DISCLOSURE_ENTRIES);
  }
}

function requireEnd(lines: Generator<Uint8Array, void, void>, path: string, count: number): void {
  if (lines.next().done) return;
  throw new Refusal("more entries are revealed than the accounting says", {
    path, expected: `${count} lines`, observed: "more",
  });
}

class Examiner {
  constructor(private readonly contents: PackContents, private readonly digester: Digester) {}

  /** One revealed entry on line `place` (from 1) of both files; its faults are collected. */
  examine(line: AccountingLine, sealed: Uint8Array, opened: Uint8Array, place: number): void {
    let found: RevealedEntry;
    try {
      this.#requireLeaf(line, sealed, place);
      const entry = parseEntry(sealed, layout.DISCLOSURE_ENTRIES, line.entry);
      const opening = parsePackOpening(opened, layout.DISCLOSURE_OPENINGS, place);
      this.#requireOpenings(entry, opening, line, place);
      found = { line, sealed: entry, opened: valuesOf(opening) };
    } catch (error) {
      note(this.contents.contentFaults, error, layout.DISCLOSURE_OPENINGS);
      return;
    }
    this.contents.revealed.push(found);
    const closed = closedOf(found);
    if (closed.join("\n") === line.closed.join("\n") && found.sealed.kind === line.kind) return;
    this.contents.accountingFaults.push({
      item: `${layout.DISCLOSURE_ACCOUNTING}:${line.entry + 1}`,
      message: `entry ${line.entry} keeps other fields closed than the accounting says`,
      expected: line.closed.join(", ") || "none",
      observed: closed.join(", ") || "none",
    });
  }

  #requireLeaf({ entry }: AccountingLine, sealed: Uint8Array, place: number): void {
    const { leaves } = this.contents;
    const leaf = this.digester.leaf(sealed);
    if (entry < leaves.length && same(leaves.at(entry), leaf)) return;
    throw new Refusal(`the revealed entry ${entry} is not the sealed one`, {
      path: layout.DISCLOSURE_ENTRIES,
      line: place,
      expected: entry < leaves.length ? hex(leaves.at(entry)) : "a leaf digest",
      observed: hex(leaf),
    });
  }

  #requireOpenings(entry: Entry, opening: PackOpening, line: AccountingLine, place: number): void {
    if (opening.entry !== line.entry) {
      throw new Refusal("the openings do not follow the revealed entries", {
        path: layout.DISCLOSURE_OPENINGS,
        line: place,
        expected: `entry ${line.entry}`,
        observed: `entry ${opening.entry}`,
      });
    }
    for (const [name, { salt, value }] of opening.fields) {
      this.#requireOpening(entry, name, salt, value, line.entry, place);
    }
  }

  #requireOpening(
    entry: Entry, name: string, salt: Uint8Array, value: JsonValue, number: number, place: number,
  ): void {
    const what = `field "${begin(name, SHOWN_CHARACTERS)}" of entry ${number}`;
    const found = hex(this.digester.commitment(salt, canonicalText([name, value])));
    const at = { path: layout.DISCLOSURE_OPENINGS, line: place };
    if (!Object.hasOwn(entry.fields, name)) {
      throw new Refusal(`${what} is opened, but the entry has no such field`, {
        ...at,
        expected: begin(Object.keys(entry.fields).sort(compareText).join(", "), SHOWN_CHARACTERS),
        observed: begin(name, SHOWN_CHARACTERS),
      });
    }
    if (entry.fields[name] === found) return;
    throw new Refusal(`${what} does not open as it was committed`, {
      ...at, expected: `commitment ${entry.fields[name] as string}`, observed: `commitment ${found}`,
    });
  }
}

function valuesOf(opening: PackOpening): JsonObject {
  const values: JsonObject = Object.create(null);
  for (const [name, { value }] of opening.fields) values[name] = value;
  return values;
}
