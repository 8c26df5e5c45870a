// The Merkle tree of RFC 9162, 2.1, over leaf digests, in memory that grows with its height only.

import type { Digester } from "./digests.ts";

export class TreeBuilder {
  // Roots of the full subtrees so far, widest first: one for each 1 bit of the count.
  readonly #subtrees: Uint8Array[] = [];
  #count = 0;

  constructor(private readonly digester: Digester) {}

  append(leaf: Uint8Array): void {
    let subtree = leaf;
    for (let ones = this.#count; ones % 2 === 1; ones = Math.floor(ones / 2)) {
      subtree = this.digester.node(this.#subtrees.pop()!, subtree);
    }
    this.#subtrees.push(subtree);
    this.#count++;
  }

  /** The root over the leaves so far; there must be one. */
  root(): Uint8Array {
    let root = this.#subtrees.at(-1)!;
    for (let at = this.#subtrees.length - 2; at >= 0; at--) {
      root = this.digester.node(this.#subtrees[at], root);
    }
    return root;
  }
}
