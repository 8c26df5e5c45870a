// Step 2: every file is listed once, every digest is right, nothing else is there.

import type { Archive } from "../container/archive.ts";
import { checkBag, type Digests } from "../container/bag.ts";
import { hashMembers } from "../container/hashing.ts";
import { type Step, step } from "./report.ts";
import { nextAfter } from "./step1_container.ts";

export async function examineBag(
  archive: Archive, onBytes: (count: number) => void,
): Promise<{ digests: Digests; step: Step }> {
  const { digests, faults } = await hashMembers(archive, onBytes);
  faults.push(...checkBag(archive, digests));
  const examined =
    `${digests.size} files against the manifests (RFC 8493), every file listed once`;
  if (!faults.length) return { digests, step: step(2, "holds", examined) };
  return { digests, step: { ...step(2, "fails", examined), faults, next: nextAfter(faults) } };
}
