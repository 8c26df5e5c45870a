// The end of an archive: end record, ZIP64 end record and its locator. They must be exactly those
// that the writer makes, stand at the very end, and the directory must reach exactly to them.

import * as limits from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { same } from "../text.ts";
import type { ByteSource } from "./archive.ts";
import * as fmt from "./zip_format.ts";

export const LONGEST_NAME = limits.MAX_REFERENCE_CHARACTERS + 1 + limits.MAX_NAME_BYTES;
export const LONGEST_HEADER = fmt.CENTRAL_SIZE + LONGEST_NAME + 28;

/** What the end records say: number of members; size and position of the directory. */
export interface End {
  /** Exact, however large. */
  count: number | bigint;
  size: number;
  offset: number;
}

/** Read the end records. Throws a Refusal where they differ from the one form. */
export function readEnd(source: ByteSource): End {
  requireSize(source);
  const at = source.size - fmt.END_SIZE;
  const observed = source.read(at, fmt.END_SIZE);
  const view = new DataView(observed.buffer);
  requireSignature(source, view, at);
  let end: End = {
    count: view.getUint16(10, true),
    size: view.getUint32(12, true),
    offset: view.getUint32(16, true),
  };
  let before: Uint8Array = new Uint8Array(0);
  if (end.count === fmt.FULL16 || end.size === fmt.FULL32 || end.offset === fmt.FULL32) {
    before = readZip64End(source, at);
    const wide = new DataView(before.buffer);
    end = { count: wide.getBigUint64(32, true), size: u64(wide, 40), offset: u64(wide, 48) };
  }
  const endAt = at - before.length;
  checkExtent(source, end, endAt);
  checkEnd(end, joined(before, observed), endAt, source.path);
  checkCount(source, end, endAt);
  refuseDisguisedLocator(source, endAt);
  return end;
}

function requireSignature(source: ByteSource, view: DataView, at: number): void {
  if (view.getUint32(0, true) === fmt.END_SIGNATURE) return;
  throw new Refusal("end record: signature is missing: the archive does not end in an end record", {
    path: source.path,
    offset: at,
    expected: "bytes 50 4b 05 06",
    observed: fmt.bytesShown(new Uint8Array(view.buffer, 0, 4)),
    hint: "The file is cut short, has something behind it, or is no archive.",
  });
}

/**
 * A number of 64 bits. One beyond 2^53 may not be exact here: it then gives other bytes when it is
 * compared, or lies beyond the end of every file.
 */
export const u64 = (view: DataView, at: number): number => Number(view.getBigUint64(at, true));

function requireSize(source: ByteSource): void {
  if (source.size > limits.MAX_ARCHIVE_BYTES) {
    throw new Refusal("the archive is too large", {
      path: source.path,
      expected: `at most ${limits.MAX_ARCHIVE_BYTES} bytes`,
      observed: `${source.size} bytes`,
    });
  }
  if (source.size < fmt.END_SIZE) {
    throw new Refusal("the file is too short for an archive", {
      path: source.path,
      expected: `at least ${fmt.END_SIZE} bytes`,
      observed: `${source.size} bytes`,
    });
  }
}

function readZip64End(source: ByteSource, at: number): Uint8Array {
  const length = fmt.END64_SIZE + fmt.LOCATOR_SIZE;
  if (at < length) {
    throw new Refusal(
      "end record: says that a ZIP64 end record stands before it, where there is no room",
      {
        path: source.path,
        offset: at,
        expected: `${length} bytes before it`,
        observed: `${at} bytes`,
      },
    );
  }
  return source.read(at - length, length);
}

function joined(one: Uint8Array, other: Uint8Array): Uint8Array {
  const both = new Uint8Array(one.length + other.length);
  both.set(one);
  both.set(other, one.length);
  return both;
}

/** Compare the end records with those that the writer would make of their own values. */
function checkEnd(end: End, observed: Uint8Array, at: number, path: string): void {
  const expected = fmt.endRecords(end.count, end.size, end.offset);
  if (expected.length < observed.length) {
    throw new Refusal("the end records are in ZIP64 form without need", {
      path,
      offset: at,
      expected: "an end record alone",
      observed: `${end.count} members, directory of ${end.size} bytes at ${end.offset}`,
    });
  }
  const short = expected.length === fmt.END_SIZE;
  const records = [
    { where: "ZIP64 end record", fields: fmt.END64_FIELDS, size: fmt.END64_SIZE },
    { where: "ZIP64 locator", fields: fmt.LOCATOR_FIELDS, size: fmt.LOCATOR_SIZE },
    { where: "end record", fields: fmt.END_FIELDS, size: fmt.END_SIZE },
  ];
  let from = 0;
  for (const { where, fields, size } of short ? records.slice(2) : records) {
    const wanted = expected.subarray(from, from + size);
    const found = observed.subarray(from, from + size);
    if (!same(wanted, found)) {
      fmt.refuseDifference({
        where, fields, expected: wanted, observed: found, at: at + from, path,
      });
    }
    from += size;
  }
}

/** The directory must reach exactly to the end records; its values are within the file from here. */
function checkExtent(source: ByteSource, end: End, endAt: number): void {
  if (end.offset + end.size === endAt) return;
  throw new Refusal("the central directory does not reach exactly to the end records", {
    path: source.path,
    offset: endAt,
    expected: `a directory that ends at byte ${endAt}`,
    observed: `${end.size} bytes from byte ${end.offset}`,
  });
}

/** Number of members and size of the directory must be within limits and fit one another. */
function checkCount(source: ByteSource, end: End, endAt: number): void {
  const refuse = (message: string, expected: string, observed: string): never => {
    throw new Refusal(message, { path: source.path, offset: endAt, expected, observed });
  };
  const size = `${end.size} bytes`;
  if (end.count < 1 || end.count > limits.MAX_MEMBERS) {
    refuse("the number of members is out of bounds", `1 to ${limits.MAX_MEMBERS}`, String(end.count));
  }
  if (end.size > limits.MAX_DIRECTORY_BYTES) {
    const most = `at most ${limits.MAX_DIRECTORY_BYTES} bytes`;
    refuse("the central directory is too large", most, size);
  }
  const count = Number(end.count);
  if (end.size <= count * fmt.CENTRAL_SIZE || end.size > count * LONGEST_HEADER) {
    refuse(
      "the central directory cannot hold that number of members",
      `${end.count} headers of ${fmt.CENTRAL_SIZE + 1} to ${LONGEST_HEADER} bytes`,
      size,
    );
  }
}

/** Programs that look for a locator without need would find one here. */
function refuseDisguisedLocator(source: ByteSource, endAt: number): void {
  if (endAt < fmt.LOCATOR_SIZE || endAt + fmt.END_SIZE !== source.size) return;
  const before = source.read(endAt - fmt.LOCATOR_SIZE, 4);
  if (new DataView(before.buffer).getUint32(0, true) === fmt.LOCATOR_SIGNATURE) {
    throw new Refusal("what looks like a ZIP64 locator stands before an end record that needs none", {
      path: source.path,
      offset: endAt - fmt.LOCATOR_SIZE,
      expected: "no locator",
      observed: fmt.bytesShown(before),
    });
  }
}
