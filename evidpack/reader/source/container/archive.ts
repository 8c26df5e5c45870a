// A file read by position in slices, and the members of an archive as windows on it.

import { Refusal } from "../refusal.ts";
import { crc32 } from "./crc32.ts";

/** One file in an archive: where its bytes stand and what both headers say of it. */
export interface Member {
  name: string;
  offset: number;
  size: number;
  crc32: number;
}

/** Bytes read by position. */
export interface ByteSource {
  readonly path: string;
  readonly size: number;
  /** `count` bytes from `offset`. Throws a Refusal where there are fewer or they cannot be read. */
  read(offset: number, count: number): Uint8Array;
  /** The same bytes for the page, which reads them when it needs them. */
  blob(offset: number, count: number): Blob;
}

// Asking the browser for bytes takes longer than the bytes: so small reads take what follows with
// them, and a small file is read once.
const AHEAD_BYTES = 64 * 1024;
const SMALL_FILE_BYTES = 4 * 1024 * 1024;

/** Reads slices of a file, in a worker, where reading may wait. Only a slice is ever in memory. */
export class FileSource implements ByteSource {
  readonly path: string;
  readonly size: number;
  readonly #file: Blob;
  readonly #reader = new FileReaderSync();
  readonly #ahead: number;
  #kept: Uint8Array = new Uint8Array(0);
  #keptAt = 0;

  constructor(file: Blob, path: string) {
    this.#file = file;
    this.path = path;
    this.size = file.size;
    this.#ahead = file.size <= SMALL_FILE_BYTES ? SMALL_FILE_BYTES : AHEAD_BYTES;
  }

  blob(offset: number, count: number): Blob {
    return this.#file.slice(offset, offset + count);
  }

  read(offset: number, count: number): Uint8Array {
    const data = count < this.#ahead ? this.#readAhead(offset, count) : this.#readNow(offset, count);
    if (data.length !== count) {
      throw new Refusal("the archive ends too early", {
        path: this.path,
        offset: offset + data.length,
        expected: `${count - data.length} more bytes`,
        observed: "the end of the file",
      });
    }
    return data;
  }

  #readAhead(offset: number, count: number): Uint8Array {
    const from = offset - this.#keptAt;
    if (from < 0 || from + count > this.#kept.length) {
      this.#keptAt = this.#ahead === SMALL_FILE_BYTES ? 0 : offset;
      this.#kept = this.#readNow(this.#keptAt, this.#ahead);
    }
    return this.#kept.slice(offset - this.#keptAt, offset - this.#keptAt + count);
  }

  #readNow(offset: number, count: number): Uint8Array {
    try {
      const slice = this.#file.slice(offset, offset + count);
      return new Uint8Array(this.#reader.readAsArrayBuffer(slice));
    } catch (error) {
      throw new Refusal(`the archive cannot be read: ${(error as Error).message}`, {
        path: this.path,
        offset,
        hint: "Copy the file again from where it came from, and check the medium.",
      });
    }
  }
}

/** A ZIP file whose structure can be read in one way only. */
export class Archive {
  readonly source: ByteSource;
  readonly top: string;
  readonly members: readonly Member[];
  readonly #byName: Map<string, Member>;

  constructor(source: ByteSource, top: string, members: readonly Member[]) {
    this.source = source;
    this.top = top;
    this.members = members;
    this.#byName = new Map(members.map((member) => [member.name, member]));
  }

  has(name: string): boolean {
    return this.#byName.has(name);
  }

  /** The member of that name under the top folder. Throws a Refusal where there is none. */
  member(name: string): Member {
    const found = this.#byName.get(name);
    if (found === undefined) {
      throw new Refusal(`${name} is missing from the archive`, {
        path: this.source.path,
        expected: `a member named ${this.top}/${name}`,
        observed: "none",
      });
    }
    return found;
  }

  /** The whole member, its checksum checked. Throws a Refusal: missing, too large, or damaged. */
  read(name: string, limit: number): Uint8Array {
    const member = this.member(name);
    if (member.size > limit) {
      throw new Refusal(`${name} is too large`, {
        path: this.source.path,
        offset: member.offset,
        expected: `at most ${limit} bytes`,
        observed: `${member.size} bytes`,
      });
    }
    const data = this.source.read(member.offset, member.size);
    const found = crc32(data);
    if (found !== member.crc32) {
      throw new Refusal(`${name}: the bytes do not have the stated CRC-32`, {
        path: this.source.path,
        offset: member.offset,
        expected: hex8(member.crc32),
        observed: hex8(found),
      });
    }
    return data;
  }
}

export const hex8 = (value: number): string => value.toString(16).padStart(8, "0");
