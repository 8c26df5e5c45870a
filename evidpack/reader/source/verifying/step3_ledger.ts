// Step 3: the ledger's entries are canonical and of the signed numbers, and give the chain head and
// the tree root that were signed. The openings are read beside the ledger, once, for step 4.

import type { Archive } from "../container/archive.ts";
import * as layout from "../layout.ts";
import { Digester, FIRST_LINK } from "../proof/digests.ts";
import {
  type Entry, entryLine, type Opening, parseEntry, parseOpening, requireSameEntry,
} from "../proof/entries.ts";
import {
  ENTRY_KINDS, entryCount, type EntryKind, kindAt, parseStatement, type SealStatement,
} from "../proof/statement.ts";
import { TreeBuilder } from "../proof/tree.ts";
import { type Fault, faultFrom, Refusal } from "../refusal.ts";
import { hex, same, textOf } from "../text.ts";
import { linesOf } from "./ledger_lines.ts";
import { type Step, step } from "./report.ts";
import { type SealedFile, sealedFile } from "./sealed_file.ts";
import { nextAfter } from "./step1_container.ts";

const MAX_FAULTS = 1_000;

/** Told of each opened entry, so that it can be shown; `holds` says whether it opens as sealed. */
export type EntryListener = (
  number: number, kind: EntryKind, values: Opening["values"], holds: boolean,
) => void;

/** What steps 3 and 4 found in ledger and openings. */
export interface LedgerWalk {
  entries: number;
  chainHead: Uint8Array;
  treeRoot: Uint8Array;
  files: Map<string, SealedFile>;
  ledgerFaults: Fault[];
  contentFaults: Fault[];
}

export interface Ledger {
  statement: SealStatement | null;
  walk: LedgerWalk | null;
  step: Step;
}

export async function examineLedger(
  archive: Archive, statementBytes: Uint8Array, listener: EntryListener,
): Promise<Ledger> {
  let statement: SealStatement | null = null;
  let walk: LedgerWalk | null = null;
  const faults: Fault[] = [];
  try {
    statement = parseStatement(statementBytes, layout.STATEMENT);
    if (statement.day !== archive.top) {
      throw new Refusal("the archive's folder is not named for the day that was signed", {
        path: archive.top, expected: statement.day, observed: archive.top,
      });
    }
    archive.member(layout.LEDGER);
    archive.member(layout.OPENINGS);
    walk = new Walker(archive, statement, await Digester.create(), listener).run();
    faults.push(...walk.ledgerFaults);
  } catch (error) {
    faults.push(faultFrom(error, layout.STATEMENT));
  }
  const examined = faults.length
    ? "the ledger is not the one that was signed"
    : `${walk?.entries ?? 0} entries give the chain head and the tree root that were signed`;
  const outcome = faults.length ? "fails" : "holds";
  const next = faults.length ? nextAfter(faults) : null;
  return { statement, walk, step: { ...step(3, outcome, examined), faults, next } };
}

class Walker {
  readonly #openings: Generator<Uint8Array, void, void>;
  readonly #tree: TreeBuilder;
  readonly #walk: LedgerWalk = {
    entries: 0,
    chainHead: FIRST_LINK,
    treeRoot: new Uint8Array(0),
    files: new Map(),
    ledgerFaults: [],
    contentFaults: [],
  };

  constructor(
    private readonly archive: Archive,
    private readonly statement: SealStatement,
    private readonly digester: Digester,
    private readonly listener: EntryListener,
  ) {
    this.#openings = linesOf(archive, layout.OPENINGS);
    this.#tree = new TreeBuilder(digester);
  }

  run(): LedgerWalk {
    const walk = this.#walk;
    const signed = entryCount(this.statement);
    try {
      for (const line of linesOf(this.archive, layout.LEDGER)) {
        const number = walk.entries++;
        const leaf = this.digester.leaf(line);
        this.#tree.append(leaf);
        walk.chainHead = this.digester.link(walk.chainHead, leaf);
        if (number >= signed || walk.ledgerFaults.length >= MAX_FAULTS) continue;
        this.#examine(number, line);
      }
    } catch (error) {
      walk.ledgerFaults.push(faultFrom(error, layout.LEDGER));
    }
    if (walk.entries) walk.treeRoot = this.#tree.root();
    this.#compareWithStatement();
    this.#requireNoMore();
    return walk;
  }

  /** One ledger line and its opening; a fault of either is collected. */
  #examine(number: number, line: Uint8Array): void {
    const walk = this.#walk;
    const expected = kindAt(this.statement, number);
    let opening: Opening | null = null;
    let openingFault: unknown = null;
    try {
      opening = this.#nextOpening(number);
    } catch (error) {
      openingFault = error;
    }
    // A line rebuilt from its opening is canonical and of that kind: nothing is left to examine.
    const text = textOf(line);
    const rebuilt = opening === null ? null : entryLine(this.digester, expected, opening);
    if (rebuilt === null || rebuilt.line !== text) {
      let entry: Entry;
      try {
        entry = parseEntry(line, layout.LEDGER, number);
        requireKind(entry, expected, number);
      } catch (error) {
        walk.ledgerFaults.push(faultFrom(error, layout.LEDGER));
        return;
      }
      this.#collect(() => {
        if (opening === null) throw openingFault;
        this.listener(number, expected, opening.values, false);
        requireSameEntry(this.digester, entry, text!, opening, layout.OPENINGS, number);
      });
      return;
    }
    this.listener(number, expected, opening!.values, true);
    if (expected === "file") this.#collect(() => this.#keepFile(number, opening!));
  }

  #nextOpening(number: number): Opening {
    const next = this.#openings.next();
    if (next.done) {
      throw new Refusal(`entry ${number} has no opening`, { path: layout.OPENINGS });
    }
    return parseOpening(next.value, layout.OPENINGS, number);
  }

  #collect(examine: () => void): void {
    try {
      examine();
    } catch (error) {
      if (this.#walk.contentFaults.length < MAX_FAULTS) {
        this.#walk.contentFaults.push(faultFrom(error, layout.OPENINGS));
      }
    }
  }

  #keepFile(number: number, opening: Opening): void {
    const sealed = sealedFile(number, opening.values);
    const before = this.#walk.files.get(sealed.path);
    if (before !== undefined) {
      throw new Refusal("two file entries have the same path", {
        path: layout.DATA + sealed.path,
        expected: `one entry (number ${before.entry})`,
        observed: `another (number ${number})`,
      });
    }
    this.#walk.files.set(sealed.path, sealed);
  }

  #compareWithStatement(): void {
    const { entries, chainHead, treeRoot, ledgerFaults } = this.#walk;
    const signed = entryCount(this.statement);
    if (entries !== signed) {
      const kinds = ENTRY_KINDS.map((kind) => `${this.statement.entries[kind]} ${kind}`).join(", ");
      ledgerFaults.push({
        item: layout.LEDGER,
        message: "the number of entries is not the one signed",
        expected: `${signed} (${kinds})`,
        observed: String(entries),
      });
    }
    for (const [name, computed, wanted] of [
      ["chain head", chainHead, this.statement.chainHead],
      ["tree root", treeRoot, this.statement.treeRoot],
    ] as const) {
      if (same(computed, wanted)) continue;
      ledgerFaults.push({
        item: layout.LEDGER,
        message: `the ${name} recomputed from the ledger is not the one signed`,
        expected: hex(wanted),
        observed: hex(computed),
      });
    }
  }

  #requireNoMore(): void {
    let surplus = 0;
    try {
      while (!this.#openings.next().done) surplus++;
    } catch (error) {
      this.#walk.contentFaults.push(faultFrom(error, layout.OPENINGS));
      return;
    }
    if (!surplus) return;
    this.#walk.contentFaults.push({
      item: layout.OPENINGS,
      message: "there are more openings than entries",
      expected: "none left",
      observed: `${surplus} more`,
    });
  }
}

function requireKind(entry: Entry, expected: EntryKind, number: number): void {
  if (entry.kind === expected) return;
  throw new Refusal(`entry ${number} is of another kind than its position says`, {
    path: layout.LEDGER, line: number + 1, expected, observed: entry.kind,
  });
}
