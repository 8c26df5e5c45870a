// SHA-256 (FIPS 180-4) behind one prefix byte a use, and salts by HMAC-SHA256 (RFC 2104). One
// hasher is made once and used for all, since there are some ten digests an entry.

import { createSHA256, type IHasher } from "hash-wasm";
import { utf8 } from "../text.ts";

const BLOCK_BYTES = 64;
export const SALT_BYTES = 16;
export const KEY_BYTES = 32;
export const FIRST_LINK = new Uint8Array(32);

export const LEAF = new Uint8Array([0]);
export const NODE = new Uint8Array([1]);
export const LINK = new Uint8Array([2]);
export const FIELD = new Uint8Array([3]);
export const TILE = new Uint8Array([4]);

export type Salter = (message: Uint8Array) => Uint8Array;

export class Digester {
  readonly #hasher: IHasher;

  private constructor(hasher: IHasher) {
    this.#hasher = hasher;
  }

  static async create(): Promise<Digester> {
    return new Digester(await createSHA256());
  }

  of(...parts: Uint8Array[]): Uint8Array {
    this.#hasher.init();
    for (const part of parts) this.#hasher.update(part);
    return this.#hasher.digest("binary");
  }

  leaf(line: Uint8Array): Uint8Array {
    return this.of(LEAF, line);
  }

  node(left: Uint8Array, right: Uint8Array): Uint8Array {
    return this.of(NODE, left, right);
  }

  link(previous: Uint8Array, leaf: Uint8Array): Uint8Array {
    return this.of(LINK, previous, leaf);
  }

  /** SHA-256(0x03 ‖ salt ‖ JCS([name, value])); `committed` is that canonical text. */
  commitment(salt: Uint8Array, committed: string): Uint8Array {
    return this.of(FIELD, salt, utf8(committed));
  }

  /** SHA-256(0x04 ‖ salt ‖ tile bytes). */
  tile(salt: Uint8Array, tile: Uint8Array): Uint8Array {
    return this.of(TILE, salt, tile);
  }

  /** A function from message to salt: the first 16 bytes of HMAC-SHA256(key, message). */
  salter(key: Uint8Array): Salter {
    const inner = this.#begun(key, 0x36);
    const outer = this.#begun(key, 0x5c);
    return (message) => {
      const inside = this.#hasher.load(inner).update(message).digest("binary");
      return this.#hasher.load(outer).update(inside).digest("binary").subarray(0, SALT_BYTES);
    };
  }

  #begun(key: Uint8Array, pad: number): Uint8Array {
    const block = new Uint8Array(BLOCK_BYTES).fill(pad);
    key.forEach((byte, at) => (block[at] = byte ^ pad));
    return this.#hasher.init().update(block).save();
  }
}
