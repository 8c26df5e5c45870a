// The cipher of an AES ZIP: WinZip's AE-2 with 256 bits ("AES Encryption Information: Encryption
// Specification AE-1 and AE-2", version 1.04). Keys by PBKDF2 (RFC 8018, 5.2) with HMAC-SHA-1 and
// 1,000 iterations; AES in counter mode with a little-endian counter that begins at 1, which is why
// the browser's own counter mode does not fit; HMAC-SHA-1 over the ciphertext, cut to 10 bytes.

import { ecb } from "@noble/ciphers/aes.js";
import { createHMAC, createSHA1, type IHasher } from "hash-wasm";
import { utf8 } from "../text.ts";

export const SALT_BYTES = 16;
export const VERIFIER_BYTES = 2;
export const MAC_BYTES = 10;
const KEY_BYTES = 32;
const BLOCK_BYTES = 16;
const ITERATIONS = 1_000;
const WORDS = BLOCK_BYTES / 4;

export interface PackKeys {
  encryption: Uint8Array;
  authentication: Uint8Array;
  /** Two bytes by which most wrong passphrases are told before anything is read. */
  verifier: Uint8Array;
}

export async function keysFrom(passphrase: string, salt: Uint8Array): Promise<PackKeys> {
  const secret = await crypto.subtle.importKey("raw", utf8(passphrase) as BufferSource, "PBKDF2", false, ["deriveBits"]);
  const derivation = { name: "PBKDF2", hash: "SHA-1", salt: salt as BufferSource, iterations: ITERATIONS };
  const bits = await crypto.subtle.deriveBits(derivation, secret, 8 * (2 * KEY_BYTES + VERIFIER_BYTES));
  const bytes = new Uint8Array(bits);
  return {
    encryption: bytes.slice(0, KEY_BYTES),
    authentication: bytes.slice(KEY_BYTES, 2 * KEY_BYTES),
    verifier: bytes.slice(2 * KEY_BYTES),
  };
}

/** Takes the ciphertext in pieces; `macOf` gives its 10 bytes. */
export const authenticator = (keys: PackKeys): Promise<IHasher> => createHMAC(createSHA1(), keys.authentication);
export const macOf = (hasher: IHasher): Uint8Array => hasher.digest("binary").subarray(0, MAC_BYTES);

/** Decrypts a piece of the ciphertext that begins at byte `offset` of it, wherever that is. */
export function decrypted(keys: PackKeys, piece: Uint8Array, offset: number): Uint8Array {
  const first = Math.floor(offset / BLOCK_BYTES);
  const skip = offset - first * BLOCK_BYTES;
  const blocks = Math.ceil((skip + piece.length) / BLOCK_BYTES);
  const counters = new Uint32Array(blocks * WORDS);
  for (let block = 0; block < blocks; block++) {
    const counter = first + block + 1;
    counters[block * WORDS] = counter % 2 ** 32;
    counters[block * WORDS + 1] = Math.floor(counter / 2 ** 32);
  }
  // ECB only to make the key stream. Every machine that runs a browser today is little-endian.
  const stream = ecb(keys.encryption, { disablePadding: true }).encrypt(new Uint8Array(counters.buffer));
  const out = new Uint8Array(piece.length);
  for (let at = 0; at < piece.length; at++) out[at] = piece[at] ^ stream[skip + at];
  return out;
}
