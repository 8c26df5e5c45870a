// Strict reading of a ZIP's structure: an archive that could be read in two ways is refused. The
// central directory, the local headers in their order, and the end records must all come to the
// same members, and every byte of the file belongs to exactly one of them.

import { Refusal } from "../refusal.ts";
import { begin, hex, inAscii, same, textOf } from "../text.ts";
import { Archive, type ByteSource, type Member } from "./archive.ts";
import { NameTable, requireTop } from "./names.ts";
import { type End, LONGEST_HEADER, LONGEST_NAME, readEnd, u64 } from "./zip_end.ts";
import * as fmt from "./zip_format.ts";

const PIECE_BYTES = 1024 * 1024;

/** What a central header says; `at` is its own position, `begins` the local header's. */
interface Header {
  at: number;
  rawName: Uint8Array;
  size: number;
  crc32: number;
  begins: number;
}

const lenient = new TextDecoder("utf-8", { ignoreBOM: true });
const shown = (header: Pick<Header, "rawName">): string =>
  inAscii(begin(lenient.decode(header.rawName), 200));
const nameAt = (header: Header): number => header.at + fmt.CENTRAL_SIZE;

/** Check the whole structure of a ZIP file and list its members; their bytes are not read. */
export function readArchive(source: ByteSource): Archive {
  const { path } = source;
  const end = readEnd(source);
  const table = new NameTable();
  const members: Member[] = [];
  let prefix: Uint8Array = new Uint8Array(0);
  let position = 0;
  for (const header of directory(source, end)) {
    if (!members.length) prefix = prefixOf(header, path);
    if (header.begins !== position) refusePosition(header, position, path);
    const name = nameOf(header, prefix, table, path);
    const offset = checkLocal(source, header, end);
    members.push({ name, offset, size: header.size, crc32: header.crc32 });
    position = offset + header.size;
  }
  if (position !== end.offset) {
    throw new Refusal("bytes that belong to no member stand before the central directory", {
      path,
      offset: position,
      expected: `the central directory at byte ${position}`,
      observed: `the central directory at byte ${end.offset}`,
    });
  }
  return new Archive(source, lenient.decode(prefix.subarray(0, -1)), members);
}

/** The headers of the central directory, read in pieces of bounded size. */
function* directory(source: ByteSource, end: End): Generator<Header> {
  const stop = end.offset + end.size;
  let at = end.offset;
  let piece: Uint8Array = new Uint8Array(0);
  let pieceAt = at;
  for (let number = 0; number < end.count; number++) {
    if (pieceAt + piece.length - at < LONGEST_HEADER && pieceAt + piece.length < stop) {
      piece = source.read(at, Math.min(PIECE_BYTES, stop - at));
      pieceAt = at;
    }
    const [header, length] = parseCentral(piece, at - pieceAt, at, number, source.path);
    at += length;
    yield header;
  }
  if (at !== stop) {
    throw new Refusal("the central directory holds more than its headers", {
      path: source.path,
      offset: at,
      expected: `the end records, after ${end.count} headers`,
      observed: `${stop - at} more bytes`,
    });
  }
}

/** One central header and its length; must be what the writer makes of its own values. */
function parseCentral(
  piece: Uint8Array, start: number, at: number, number: number, path: string,
): [Header, number] {
  const where = `central header ${number + 1}`;
  if (piece.length - start < fmt.CENTRAL_SIZE) {
    throw new Refusal(`${where}: the central directory ends inside it`, {
      path,
      offset: at,
      expected: `${fmt.CENTRAL_SIZE} bytes`,
      observed: `${Math.max(piece.length - start, 0)} bytes`,
    });
  }
  const view = new DataView(piece.buffer, piece.byteOffset + start, fmt.CENTRAL_SIZE);
  const nameLength = view.getUint16(28, true);
  const extraLength = view.getUint16(30, true);
  if (nameLength < 1 || nameLength > LONGEST_NAME) {
    throw new Refusal(`${where}: length of the name is out of bounds`, {
      path,
      offset: at + 28,
      expected: `1 to ${LONGEST_NAME}`,
      observed: String(nameLength),
    });
  }
  const name = start + fmt.CENTRAL_SIZE;
  const rawName = piece.slice(name, name + nameLength);
  const extra = piece.slice(name + nameLength, name + nameLength + extraLength);
  let size = view.getUint32(24, true);
  let begins = view.getUint32(42, true);
  if (extraLength || size === fmt.FULL32 || begins === fmt.FULL32) {
    [size, begins] = zip64Values(extra, size, begins, where, at, path);
  }
  const header: Header = { at, rawName, size, crc32: view.getUint32(16, true), begins };
  const expected = fmt.centralHeader(rawName, { size, crc32: header.crc32, offset: begins });
  const length = fmt.CENTRAL_SIZE + nameLength + extraLength;
  const observed = piece.subarray(start, start + length);
  if (!same(expected, observed)) {
    const named = `${where} (${shown(header)})`;
    fmt.refuseDifference({ where: named, fields: fmt.CENTRAL_FIELDS, expected, observed, at, path });
  }
  return [header, length];
}

/** Size and position, taken from the ZIP64 extra field where the header says so. */
function zip64Values(
  extra: Uint8Array, size: number, begins: number, where: string, at: number, path: string,
): [number, number] {
  const large = size === fmt.FULL32;
  const far = begins === fmt.FULL32;
  const length = large ? (far ? 24 : 16) : 0;
  const head = new Uint8Array(length ? [fmt.ZIP64_ID, 0, length, 0] : []);
  if (!same(extra.subarray(0, 4), head) || extra.length !== head.length + length) {
    const id = hex(extra.slice(0, 2).reverse()).padStart(4, "0");
    throw new Refusal(`${where}: the extra field is not what size and position need`, {
      path,
      offset: at + fmt.CENTRAL_SIZE,
      expected: length ? `ZIP64's (0x0001) with ${length} bytes` : "none",
      observed: extra.length ? `id 0x${id}, ${extra.length} bytes in all` : "none",
    });
  }
  if (!large) return [size, begins];
  const view = new DataView(extra.buffer, extra.byteOffset, extra.length);
  return [u64(view, 12), far ? u64(view, 20) : begins];
}

/** The top folder with its slash, as the first member's name has it. */
function prefixOf(header: Header, path: string): Uint8Array {
  const slash = header.rawName.indexOf(0x2f);
  if (slash < 0) {
    throw new Refusal(`the member ${shown(header)} stands outside a top folder`, {
      path,
      offset: nameAt(header),
      expected: "one top folder that holds every member",
      observed: shown(header),
    });
  }
  placed(header, path, () => requireTop(lenient.decode(header.rawName.subarray(0, slash))));
  return header.rawName.slice(0, slash + 1);
}

/** The member's name relative to the top folder, allowed and without twin. */
function nameOf(header: Header, prefix: Uint8Array, table: NameTable, path: string): string {
  if (!same(header.rawName.subarray(0, prefix.length), prefix)) {
    throw new Refusal(`the member ${shown(header)} stands outside the top folder`, {
      path,
      offset: nameAt(header),
      expected: `a name that begins with ${inAscii(lenient.decode(prefix))}`,
      observed: shown(header),
    });
  }
  const name = textOf(header.rawName.subarray(prefix.length));
  if (name === null) {
    throw new Refusal(`the name ${shown(header)} is not UTF-8`, {
      path,
      offset: nameAt(header),
      expected: "a name in UTF-8",
      observed: "other bytes",
    });
  }
  placed(header, path, () => table.add(name));
  return name;
}

/** Run a check of a name; its refusal gets the place in the archive. */
function placed(header: Header, path: string, check: () => void): void {
  try {
    check();
  } catch (error) {
    if (error instanceof Refusal) {
      error.path = path;
      error.offset = nameAt(header);
    }
    throw error;
  }
}

function refusePosition(header: Header, position: number, path: string): never {
  const what = header.begins > position ? "a gap stands before" : "another member overlaps";
  throw new Refusal(`${what} the member ${shown(header)}`, {
    path,
    offset: header.begins,
    expected: `its local header at byte ${position}, right behind the member before`,
    observed: `at byte ${header.begins}`,
  });
}

/** Compare the local header with the central one; where the member's bytes begin. */
function checkLocal(source: ByteSource, header: Header, end: End): number {
  const { size, crc32, begins } = header;
  const expected = fmt.localHeader(header.rawName, { size, crc32, offset: begins });
  const from = begins + expected.length;
  if (from + size > end.offset) {
    throw new Refusal(`the member ${shown(header)} runs into the central directory`, {
      path: source.path,
      offset: begins,
      expected: `an end at or before byte ${end.offset}`,
      observed: `an end at byte ${from + size}`,
    });
  }
  const observed = source.read(begins, expected.length);
  if (!same(expected, observed)) {
    fmt.refuseDifference({
      where: `local header of ${shown(header)}`,
      fields: fmt.LOCAL_FIELDS,
      expected,
      observed,
      at: begins,
      path: source.path,
    });
  }
  return from;
}
