// Steps 1 to 4 of a pack, and its steps 8 and 9, each independent one even where another fails.

import type { Archive } from "../../container/archive.ts";
import type { Digests } from "../../container/bag.ts";
import * as layout from "../../layout.ts";
import { Digester } from "../../proof/digests.ts";
import type { DisclosureStatement } from "../../proof/disclosure_statement.ts";
import type { SealStatement } from "../../proof/statement.ts";
import { hex } from "../../text.ts";
import { documentOf, type Examined, stopped } from "../examined.ts";
import { type Step, step } from "../report.ts";
import { examineBag } from "../step2_bag.ts";
import { note, PackContents } from "./contents.ts";
import { readStatements } from "./statements.ts";
import { openPack, type PackStatements } from "./step1_order.ts";
import { examineLeaves, leavesStep } from "./step3_leaves.ts";
import { comparePinned, contentStep, examineFiles } from "./step4_files.ts";
import { examineRevealed } from "./step4_revealed.ts";
import { accountingStep, examineAccounting } from "./step9_accounting.ts";

/** What a pack says of itself and what it holds, to be shown. */
export interface PackFound {
  statement: DisclosureStatement | null;
  origin: SealStatement | null;
  contents: PackContents;
}

export interface PackOptions {
  fileName: string;
  size: number;
  onBytes: (count: number) => void;
  onStep: (number: number) => void;
  onPack: (found: PackFound) => void;
}

export async function examinePack(archive: Archive, options: PackOptions): Promise<Examined> {
  const { fileName, size, onStep } = options;
  const opened = openPack(archive);
  if (!("statementBytes" in opened)) return stopped(fileName, size, opened);
  onStep(2);
  const bag = await examineBag(archive, options.onBytes);
  const digester = await Digester.create();
  const contents = new PackContents();
  const { statement, origin } = readStatements(archive, opened, contents, digester);
  onStep(3);
  if (origin !== null) {
    examineLeaves(contents, archive, origin, digester);
    examineAccounting(contents, archive, origin, statement);
  }
  onStep(4);
  if (statement !== null) comparePinned(contents, statement, bag.digests);
  if (!contents.accountingFaults.length && !contents.ledgerFaults.length) {
    await examineContents(contents, archive, bag.digests, digester);
  }
  options.onPack({ statement, origin, contents });
  return {
    fileName,
    size,
    kind: "pack",
    archive,
    statementSha256: hex(digester.of(opened.statementBytes)),
    originSha256: hex(digester.of(opened.originBytes)),
    documents: documentsOf(archive, opened, statement, origin),
    before: [opened.step, bag.step, leavesStep(contents), contentStep(contents)],
    after: [recheck(), accountingStep(contents, origin)],
  };
}

async function examineContents(
  contents: PackContents, archive: Archive, digests: Digests, digester: Digester,
): Promise<void> {
  try {
    examineRevealed(contents, archive, digester);
    await examineFiles(contents, archive, digests, digester);
  } catch (error) {
    note(contents.contentFaults, error, archive.top);
  }
}

function documentsOf(
  archive: Archive, { statementBytes, originBytes }: PackStatements,
  statement: DisclosureStatement | null, origin: SealStatement | null,
) {
  const sealer = {
    statement: layout.ORIGIN_STATEMENT, signature: layout.ORIGIN_SIGNATURE, token: layout.ORIGIN_TOKEN,
  };
  const discloser = {
    statement: layout.DISCLOSURE_STATEMENT,
    signature: layout.DISCLOSURE_SIGNATURE,
    token: layout.DISCLOSURE_TOKEN,
  };
  return [
    documentOf(archive, "sealer", originBytes, sealer, origin),
    documentOf(archive, "discloser", statementBytes, discloser, statement),
  ];
}

function recheck(): Step {
  return {
    ...step(
      8,
      "not established",
      "not run here: this page does not read the revealed rows again under the profile; evidpack's "
        + "command line does",
    ),
    next: "Where it matters that the opened values follow from the opened cells, have somebody run "
      + "evidpack verify on this file. The other steps do not depend on it.",
  };
}
