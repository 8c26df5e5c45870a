// Steps 1 to 4 of a bundle, and its steps 8 and 9: the whole file is read once.

import type { Archive } from "../container/archive.ts";
import * as layout from "../layout.ts";
import { hex } from "../text.ts";
import { digestOf } from "../trust/keys.ts";
import { documentOf, type Examined, stopped } from "./examined.ts";
import { type Step, step } from "./report.ts";
import { openBundle } from "./step1_container.ts";
import { examineBag } from "./step2_bag.ts";
import { type EntryListener, examineLedger } from "./step3_ledger.ts";
import { examineContents } from "./step4_contents.ts";

export interface BundleOptions {
  fileName: string;
  size: number;
  onBytes: (count: number) => void;
  onStep: (number: number) => void;
  onEntry: EntryListener;
}

export async function examineBundle(archive: Archive, options: BundleOptions): Promise<Examined> {
  const { fileName, size, onStep } = options;
  const opened = openBundle(archive);
  if (!("statementBytes" in opened)) return stopped(fileName, size, opened);
  const { statementBytes } = opened;
  onStep(2);
  const bag = await examineBag(archive, options.onBytes);
  onStep(3);
  const ledger = await examineLedger(archive, statementBytes, options.onEntry);
  onStep(4);
  const contents = examineContents(archive, ledger.statement, ledger.walk, bag.digests);
  const names = { statement: layout.STATEMENT, signature: layout.SIGNATURE, token: layout.TOKEN };
  return {
    fileName,
    size,
    kind: "bundle",
    archive,
    statementSha256: hex(await digestOf("sha256", statementBytes)),
    originSha256: null,
    documents: [documentOf(archive, "sealer", statementBytes, names, ledger.statement)],
    before: [opened.step, bag.step, ledger.step, contents],
    after: [recheck(), accounting()],
  };
}

function recheck(): Step {
  return {
    ...step(
      8,
      "not established",
      "not run here: this page does not read the originals again and does not run the checks; "
        + "evidpack's command line does",
    ),
    next: "Where it matters that the findings follow from the originals, have somebody run evidpack "
      + "verify on this file. The other steps do not depend on it.",
  };
}

function accounting(): Step {
  return step(
    9,
    "not applicable",
    "a bundle holds everything; only packs account for what they withhold",
  );
}
