// The fixed layouts of our ZIP files (PKWARE APPNOTE 6.3.10, 4.3.7, 4.3.12, 4.3.14 to 4.3.16 and
// 4.5.3). Name, size, checksum and position decide every byte of a header: the reader builds the
// header that the writer would have made, and compares.

import { Refusal } from "../refusal.ts";
import { hex } from "../text.ts";

export const FULL16 = 0xffff;
export const FULL32 = 0xffffffff;
export const ZIP64_ID = 0x0001;

export const LOCAL_SIZE = 30;
export const CENTRAL_SIZE = 46;
export const END_SIZE = 22;
export const END64_SIZE = 56;
export const LOCATOR_SIZE = 20;

export const END_SIGNATURE = 0x06054b50;
export const LOCATOR_SIGNATURE = 0x07064b50;
export const LOCAL_SIGNATURE = 0x04034b50;
export const CENTRAL_SIGNATURE = 0x02014b50;
const END64_SIGNATURE = 0x06064b50;

const VERSION = 20;
const VERSION64 = 45;
export const HOST_UNIX = 3 << 8;
export const FLAGS = 0x0800;
export const DATE = (1 << 5) | 1;
export const ATTRIBUTES = 0o100644 * 0x10000;

export type Part = [width: 2 | 4 | 8, value: number | bigint];

/** Numbers one after the other, little-endian, and bytes behind them. */
export function packed(parts: Part[], ...tails: Uint8Array[]): Uint8Array {
  const size = parts.reduce((sum, [width]) => sum + width, 0);
  const length = tails.reduce((sum, tail) => sum + tail.length, size);
  const bytes = new Uint8Array(length);
  const view = new DataView(bytes.buffer);
  let at = 0;
  for (const [width, value] of parts) {
    if (width === 2) view.setUint16(at, Number(value), true);
    else if (width === 4) view.setUint32(at, Number(value), true);
    else view.setBigUint64(at, BigInt(value), true);
    at += width;
  }
  for (const tail of tails) {
    bytes.set(tail, at);
    at += tail.length;
  }
  return bytes;
}

const NOTHING = new Uint8Array(0);

export interface Described {
  size: number;
  crc32: number;
  offset: number;
}

/** Whether a member of that size, whose header begins at `offset`, is in ZIP64 form. */
const needsZip64 = (size: number, offset: number): boolean => size >= FULL32 || offset >= FULL32;

/** The local header of a member whose header begins at `offset`, name and extra field included. */
export function localHeader(name: Uint8Array, { size, crc32, offset }: Described): Uint8Array {
  const wide = needsZip64(size, offset);
  const extra = wide ? packed([[2, ZIP64_ID], [2, 16], [8, size], [8, size]]) : NOTHING;
  const stated = wide ? FULL32 : size;
  // prettier-ignore
  return packed([
    [4, LOCAL_SIGNATURE], [2, wide ? VERSION64 : VERSION], [2, FLAGS],
    [2, 0], [2, 0], [2, DATE], [4, crc32], [4, stated], [4, stated],
    [2, name.length], [2, extra.length],
  ], name, extra);
}

/** The same member's header in the central directory. */
export function centralHeader(name: Uint8Array, { size, crc32, offset }: Described): Uint8Array {
  const wide = needsZip64(size, offset);
  // A small member far back has its sizes in the extra field too: a lone position there is misread
  // by a common unzip program (docs/format.md).
  const values: Part[] = wide ? [[8, size], [8, size]] : [];
  if (offset >= FULL32) values.push([8, offset]);
  const extra = wide ? packed([[2, ZIP64_ID], [2, 8 * values.length], ...values]) : NOTHING;
  const version = wide ? VERSION64 : VERSION;
  const stated = wide ? FULL32 : size;
  // prettier-ignore
  return packed([
    [4, CENTRAL_SIGNATURE], [2, HOST_UNIX | version], [2, version], [2, FLAGS], [2, 0], [2, 0],
    [2, DATE], [4, crc32], [4, stated], [4, stated], [2, name.length], [2, extra.length],
    [2, 0], [2, 0], [2, 0], [4, ATTRIBUTES], [4, Math.min(offset, FULL32)],
  ], name, extra);
}

/** All that follows a central directory of `count` headers in `size` bytes at `offset`. */
export function endRecords(count: number | bigint, size: number, offset: number): Uint8Array {
  const here = Math.min(Number(count), FULL16);
  // prettier-ignore
  const end: Part[] = [
    [4, END_SIGNATURE], [2, 0], [2, 0], [2, here], [2, here],
    [4, Math.min(size, FULL32)], [4, Math.min(offset, FULL32)], [2, 0],
  ];
  if (count < FULL16 && size < FULL32 && offset < FULL32) return packed(end);
  // prettier-ignore
  return packed([
    [4, END64_SIGNATURE], [8, END64_SIZE - 12], [2, HOST_UNIX | VERSION64], [2, VERSION64],
    [4, 0], [4, 0], [8, count], [8, count], [8, size], [8, offset],
    [4, LOCATOR_SIGNATURE], [4, 0], [8, offset + size], [4, 1],
    ...end,
  ]);
}

export interface Field {
  name: string;
  offset: number;
  size: number;
  fault: string;
}

function fields(...rows: [width: number, name: string, fault: string][]): Field[] {
  let offset = 0;
  return rows.map(([size, name, fault]) => {
    const field = { name, offset, size, fault };
    offset += size;
    return field;
  });
}

const FIXED = "is not the one value it may have";
const DISAGREES = "disagrees with the central directory";
const FLAG_FAULT = "are not 0x0800: no encryption, no data descriptor, names in UTF-8";
const METHOD_FAULT = "is not 0: members are stored, not compressed";
const EXTRA_FAULT = "is not what the size needs: ZIP64's alone, or none";
const ZIP64_FAULT = "is in ZIP64 form without need, or not in it where needed";
const NOT_ITS_NUMBER = "is not the number of members";

export const LOCAL_FIELDS = fields(
  [4, "signature", "is missing: no local header where one must begin"],
  [2, "version needed", FIXED],
  [2, "flags", FLAG_FAULT],
  [2, "method", METHOD_FAULT],
  [2, "time", FIXED],
  [2, "date", FIXED],
  [4, "CRC-32", DISAGREES],
  [4, "stored size", DISAGREES],
  [4, "size", DISAGREES],
  [2, "length of the name", DISAGREES],
  [2, "length of the extra field", EXTRA_FAULT],
);
export const CENTRAL_FIELDS = fields(
  [4, "signature", "is missing: no header where one must begin"],
  [2, "version made by", FIXED],
  [2, "version needed", FIXED],
  [2, "flags", FLAG_FAULT],
  [2, "method", METHOD_FAULT],
  [2, "time", FIXED],
  [2, "date", FIXED],
  [4, "CRC-32", FIXED],
  [4, "stored size", "is not the size, or not in ZIP64 form where needed"],
  [4, "size", ZIP64_FAULT],
  [2, "length of the name", FIXED],
  [2, "length of the extra field", "is not what size and position need: ZIP64's alone, or none"],
  [2, "length of the comment", "is not 0: members have no comment"],
  [2, "disk number", FIXED],
  [2, "internal attributes", FIXED],
  [4, "external attributes", "are not a regular file's: no links, folders or special files"],
  [4, "position", ZIP64_FAULT],
);
export const END_FIELDS = fields(
  [4, "signature", "is missing: the archive does not end in an end record"],
  [2, "disk number", FIXED],
  [2, "disk of the central directory", FIXED],
  [2, "number of members on this disk", NOT_ITS_NUMBER],
  [2, "number of members", NOT_ITS_NUMBER],
  [4, "size of the central directory", "is not its size"],
  [4, "position of the central directory", "is not its position"],
  [2, "length of the comment", "is not 0: an archive has no comment"],
);
export const END64_FIELDS = fields(
  [4, "signature", "is missing: no ZIP64 end record where one must stand"],
  [8, "size of the record", FIXED],
  [2, "version made by", FIXED],
  [2, "version needed", FIXED],
  [4, "disk number", FIXED],
  [4, "disk of the central directory", FIXED],
  [8, "number of members on this disk", NOT_ITS_NUMBER],
  [8, "number of members", NOT_ITS_NUMBER],
  [8, "size of the central directory", "is not its size"],
  [8, "position of the central directory", "is not its position"],
);
export const LOCATOR_FIELDS = fields(
  [4, "signature", "is missing: no ZIP64 locator where one must stand"],
  [4, "disk of the ZIP64 end record", FIXED],
  [8, "position of the ZIP64 end record", "is not its position"],
  [4, "number of disks", FIXED],
);

interface Difference {
  where: string;
  fields: Field[];
  expected: Uint8Array;
  observed: Uint8Array;
  at: number;
  path: string;
}

/** Name the first field in which a header differs from the one that must stand there. */
export function refuseDifference({ where, fields, expected, observed, at, path }: Difference): never {
  for (const field of fields) {
    const wanted = expected.subarray(field.offset, field.offset + field.size);
    const found = observed.subarray(field.offset, field.offset + field.size);
    if (hex(wanted) !== hex(found)) {
      throw new Refusal(`${where}: ${field.name} ${field.fault}`, {
        path,
        offset: at + field.offset,
        expected: shown(wanted, field),
        observed: shown(found, field),
      });
    }
  }
  let start = 0;
  while (expected[start] === observed[start]) start++;
  throw new Refusal(`${where}: name or ZIP64 extra field ${DISAGREES}`, {
    path,
    offset: at + start,
    expected: bytesShown(expected.subarray(start, start + 16)),
    observed: bytesShown(observed.subarray(start, start + 16)),
  });
}

function shown(value: Uint8Array, field: Field): string {
  if (field.name === "signature" || value.length < field.size) return bytesShown(value);
  return "0x" + hex(value.slice().reverse());
}

export function bytesShown(value: Uint8Array): string {
  return value.length ? `bytes ${hex(value, " ")}` : "nothing";
}
