// SHA-256 and checksum of every member of an archive, piece by piece in the order of the file.

import { createSHA256, type IHasher } from "hash-wasm";
import type { Fault } from "../refusal.ts";
import { type Archive, hex8 } from "./archive.ts";
import { crc32 } from "./crc32.ts";

const PIECE_BYTES = 4 * 1024 * 1024;

export interface Hashed {
  digests: Map<string, Uint8Array>;
  faults: Fault[];
}

/** Hash every member; a wrong CRC-32 is a fault. Never more than one piece is in memory. */
export async function hashMembers(
  archive: Archive, onBytes: (count: number) => void,
): Promise<Hashed> {
  const hasher = await createSHA256();
  const digests = new Map<string, Uint8Array>();
  const faults: Fault[] = [];
  const reader = new SmallFiles(archive);
  for (const member of archive.members) {
    hasher.init();
    let checksum = 0;
    for (let done = 0; done < member.size; done += PIECE_BYTES) {
      const count = Math.min(PIECE_BYTES, member.size - done);
      const piece = reader.read(member.offset + done, count);
      hasher.update(piece);
      checksum = crc32(piece, checksum);
      onBytes(count);
    }
    digests.set(member.name, hasher.digest("binary"));
    if (checksum !== member.crc32) {
      faults.push({
        item: member.name,
        message: "the bytes do not have the stated CRC-32",
        expected: hex8(member.crc32),
        observed: hex8(checksum),
      });
    }
  }
  return { digests, faults };
}

/** Reads ahead, since members lie one behind the other and many are small. */
class SmallFiles {
  readonly #archive: Archive;
  #piece: Uint8Array = new Uint8Array(0);
  #at = 0;

  constructor(archive: Archive) {
    this.#archive = archive;
  }

  read(offset: number, count: number): Uint8Array {
    const from = offset - this.#at;
    if (from < 0 || from + count > this.#piece.length) {
      const rest = this.#archive.source.size - offset;
      this.#piece = this.#archive.source.read(offset, Math.min(Math.max(count, PIECE_BYTES), rest));
      this.#at = offset;
      return this.#piece.subarray(0, count);
    }
    return this.#piece.subarray(from, from + count);
  }
}

/** SHA-256 of a whole file, piece by piece. */
export async function hashFile(file: Blob, onBytes: (count: number) => void): Promise<Uint8Array> {
  const hasher: IHasher = await createSHA256();
  const reader = new FileReaderSync();
  hasher.init();
  for (let at = 0; at < file.size; at += PIECE_BYTES) {
    const piece = new Uint8Array(reader.readAsArrayBuffer(file.slice(at, at + PIECE_BYTES)));
    hasher.update(piece);
    onBytes(piece.length);
  }
  return hasher.digest("binary");
}
