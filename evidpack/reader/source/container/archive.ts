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

/** Reads slices of a file, in a worker, where reading may wait. Only a slice is ever in memory. */
export class ByteSource {
  readonly path: string;
  readonly size: number;
  readonly #file: Blob;
  readonly #reader = new FileReaderSync();

  constructor(file: Blob, path: string) {
    this.#file = file;
    this.path = path;
    this.size = file.size;
  }

  /** `count` bytes from `offset`. Throws a Refusal where the file ends before or cannot be read. */
  read(offset: number, count: number): Uint8Array {
    let data: Uint8Array;
    try {
      const slice = this.#file.slice(offset, offset + count);
      data = new Uint8Array(this.#reader.readAsArrayBuffer(slice));
    } catch (error) {
      throw new Refusal(`the archive cannot be read: ${(error as Error).message}`, {
        path: this.path,
        offset,
        hint: "Copy the file again from where it came from, and check the medium.",
      });
    }
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
