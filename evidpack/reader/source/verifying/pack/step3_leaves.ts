// Step 3 of a pack: the leaf digests give the chain head and the tree root that were sealed.

import type { Archive } from "../../container/archive.ts";
import * as layout from "../../layout.ts";
import { MAX_TAG_FILE_BYTES } from "../../limits.ts";
import { type Digester, FIRST_LINK } from "../../proof/digests.ts";
import { parseLeaves } from "../../proof/pack_parts.ts";
import { entryCount, type SealStatement } from "../../proof/statement.ts";
import { TreeBuilder } from "../../proof/tree.ts";
import { Refusal } from "../../refusal.ts";
import { hex, same } from "../../text.ts";
import { type Step, step } from "../report.ts";
import { nextAfter } from "../step1_container.ts";
import { note, type PackContents } from "./contents.ts";

export function examineLeaves(
  contents: PackContents, archive: Archive, origin: SealStatement, digester: Digester,
): void {
  const name = layout.DISCLOSURE_LEAVES;
  try {
    const leaves = (contents.leaves = parseLeaves(archive.read(name, MAX_TAG_FILE_BYTES), name));
    if (leaves.length !== entryCount(origin)) {
      throw new Refusal("the number of leaf digests is not the number of sealed entries", {
        path: name, expected: String(entryCount(origin)), observed: String(leaves.length),
      });
    }
    const tree = new TreeBuilder(digester);
    let chainHead: Uint8Array = FIRST_LINK;
    for (let entry = 0; entry < leaves.length; entry++) {
      chainHead = digester.link(chainHead, leaves.at(entry));
      tree.append(leaves.at(entry));
    }
    requireSealed("chain head", chainHead, origin.chainHead);
    requireSealed("tree root", tree.root(), origin.treeRoot);
  } catch (error) {
    note(contents.ledgerFaults, error, name);
  }
}

function requireSealed(what: string, computed: Uint8Array, sealed: Uint8Array): void {
  if (same(computed, sealed)) return;
  throw new Refusal(`the ${what} recomputed from the leaf digests is not the one sealed`, {
    path: layout.DISCLOSURE_LEAVES, expected: hex(sealed), observed: hex(computed),
  });
}

export function leavesStep({ leaves, ledgerFaults: faults }: PackContents): Step {
  if (faults.length) {
    const examined = "the leaf digests are not those of the seal";
    return { ...step(3, "fails", examined), faults, next: nextAfter(faults) };
  }
  return step(
    3, "holds", `${leaves.length} leaf digests give the chain head and the tree root that were sealed`,
  );
}
