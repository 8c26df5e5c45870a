// The bag in an archive (RFC 8493, version 1.0), with one permitted byte sequence for each tag
// file. The world is closed: every member is listed exactly once and has the listed digest, and
// nothing else is listed. All faults are collected, each naming its item.

import * as layout from "../layout.ts";
import * as limits from "../limits.ts";
import { type Fault, Refusal } from "../refusal.ts";
import {
  begin, bytesInAscii, compareText, hex, inAscii, same, textOf, utf8,
} from "../text.ts";
import type { Archive } from "./archive.ts";
import { requireName } from "./names.ts";

export type Digests = ReadonlyMap<string, Uint8Array>;

const BAGIT_TXT = utf8("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
const LINE = /^([0-9a-f]{64})  (.+)$/s;
const DATE = /^Bagging-Date: ([0-9]{4}-[0-9]{2}-[0-9]{2})$/m;
// Files that would give a bag a second list of contents (RFC 8493, 2.1.3, 2.2.1, 2.2.3).
const OTHER_LIST = /^(?:(?:tag)?manifest-[^/]*|fetch\.txt)$/i;

/** Check the bag as a closed world; every fault found, in a stated order. */
export function checkBag(archive: Archive, digests: Digests): Fault[] {
  const payload = new Map<string, Uint8Array>();
  const tags = new Map<string, Uint8Array>();
  for (const [name, digest] of digests) {
    if (name.startsWith(layout.DATA)) payload.set(name, digest);
    else if (name !== layout.TAG_MANIFEST) tags.set(name, digest);
  }
  return [
    ...checkTagFile(archive, layout.BAGIT, BAGIT_TXT),
    ...otherLists(archive),
    ...checkManifest(archive, layout.MANIFEST, payload),
    ...checkInfo(archive, payload),
    ...checkManifest(archive, layout.TAG_MANIFEST, tags),
  ];
}

/** The one permitted manifest: as `sha256sum` prints it, sorted by name. */
export function manifest(digests: Digests): Uint8Array {
  const names = [...digests.keys()].sort(compareText);
  return utf8(names.map((name) => `${hex(digests.get(name)!)}  ${name}\n`).join(""));
}

/** Read a manifest, which must be what `manifest` makes of its contents. */
export function parseManifest(data: Uint8Array, path: string): Map<string, Uint8Array> {
  const found = new Map<string, Uint8Array>();
  let before = "";
  for (const [line, raw] of linesOf(data, path)) {
    const matched = LINE.exec(textOf(raw) ?? "");
    if (matched === null) {
      throw new Refusal("the line is not one of a manifest", {
        path,
        line,
        expected: "64 lower-case hex digits, two spaces, a name in UTF-8",
        observed: bytesInAscii(raw.subarray(0, 100)),
      });
    }
    const [, digest, name] = matched;
    requireListedName(name, path, line);
    if (compareText(name, before) <= 0) {
      throw new Refusal("the lines are not sorted by name, each name once", {
        path,
        line,
        expected: `a name after ${inAscii(begin(before, 100))}`,
        observed: inAscii(begin(name, 100)),
      });
    }
    before = name;
    found.set(name, Uint8Array.from(digest.match(/../g)!, (pair) => parseInt(pair, 16)));
  }
  return found;
}

function* linesOf(data: Uint8Array, path: string): Generator<[number, Uint8Array]> {
  let at = 0;
  for (let number = 1; at < data.length; number++) {
    const end = data.indexOf(0x0a, at);
    if (end < 0) {
      throw new Refusal("the last line has no line feed", {
        path,
        line: number,
        expected: "a line feed (0x0A) at the end",
        observed: bytesInAscii(data.subarray(-20)),
      });
    }
    if (number > limits.MAX_MEMBERS) {
      throw new Refusal("the manifest has too many lines", {
        path,
        line: number,
        expected: `at most ${limits.MAX_MEMBERS}`,
        observed: "more",
      });
    }
    yield [number, data.subarray(at, end)];
    at = end + 1;
  }
}

function requireListedName(name: string, path: string, line: number): void {
  try {
    requireName(name);
  } catch (error) {
    if (error instanceof Refusal) Object.assign(error, { path, line });
    throw error;
  }
}

/** The bytes of a tag file, or the fault for which it cannot be read. */
function readTag(archive: Archive, name: string): Uint8Array | Fault {
  try {
    return archive.read(name, limits.MAX_TAG_FILE_BYTES);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const message = error.message.replace(`${name} `, "").replace(`${name}: `, "");
    return { item: name, message, expected: error.expected, observed: error.observed };
  }
}

function checkTagFile(archive: Archive, name: string, expected: Uint8Array): Fault[] {
  const found = readTag(archive, name);
  if (!(found instanceof Uint8Array)) return [found];
  if (same(found, expected)) return [];
  const wanted = splitLines(expected);
  const seen = splitLines(found);
  let number = 0;
  const at = (lines: Uint8Array[]): Uint8Array => lines[number] ?? new Uint8Array(0);
  while (same(at(wanted), at(seen)) && number < Math.max(wanted.length, seen.length)) number++;
  return [{
    item: name,
    message: `line ${number + 1} is not the one permitted`,
    expected: bytesInAscii(at(wanted)),
    observed: bytesInAscii(at(seen).subarray(0, 100)),
  }];
}

/** Lines with their line feeds. */
function splitLines(data: Uint8Array): Uint8Array[] {
  const lines: Uint8Array[] = [];
  let at = 0;
  for (let end = data.indexOf(0x0a); end >= 0; end = data.indexOf(0x0a, at)) {
    lines.push(data.subarray(at, end + 1));
    at = end + 1;
  }
  lines.push(data.subarray(at));
  return lines;
}

/** Any further manifest, and fetch.txt, would be a second list of contents. */
function otherLists(archive: Archive): Fault[] {
  return archive.members
    .map((member) => member.name)
    .filter((name) => OTHER_LIST.test(name))
    .filter((name) => name !== layout.MANIFEST && name !== layout.TAG_MANIFEST)
    .map((name) => ({
      item: name,
      message: "is a second list of contents",
      expected: `${layout.MANIFEST} and ${layout.TAG_MANIFEST} alone`,
      observed: name,
    }));
}

/** Every file must be listed with its digest, and nothing else. */
function checkManifest(archive: Archive, name: string, actual: Digests): Fault[] {
  const data = readTag(archive, name);
  if (!(data instanceof Uint8Array)) return [data];
  if (same(data, manifest(actual))) return [];
  let listed: Map<string, Uint8Array>;
  try {
    listed = parseManifest(data, name);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const message = `line ${error.line}: ${error.message}`;
    return [{ item: name, message, expected: error.expected, observed: error.observed }];
  }
  const items = [...new Set([...actual.keys(), ...listed.keys()])].sort(compareText);
  return items.flatMap((item) => compareListed(item, name, actual.get(item), listed.get(item)));
}

function compareListed(
  item: string, list: string, actual: Uint8Array | undefined, listed: Uint8Array | undefined,
): Fault[] {
  let message: string;
  if (actual === undefined) message = `is listed in ${list} but missing`;
  else if (listed === undefined) message = `is not listed in ${list}`;
  else if (!same(actual, listed)) message = `has other bytes than ${list} lists`;
  else return [];
  return [{
    item,
    message,
    expected: listed === undefined ? "a line for it, or no such file" : hex(listed),
    observed: actual === undefined ? "no such file" : hex(actual),
  }];
}

/** bag-info.txt must be what its date and the payload make of it. */
function checkInfo(archive: Archive, payload: Digests): Fault[] {
  const data = readTag(archive, layout.BAG_INFO);
  if (!(data instanceof Uint8Array)) return [data];
  const head = Array.from(data.subarray(0, 1024), (byte) => String.fromCharCode(byte)).join("");
  const date = DATE.exec(head)?.[1] ?? "";
  if (!isDate(date)) {
    return [{
      item: layout.BAG_INFO,
      message: "has no line with the bagging date",
      expected: "Bagging-Date: YYYY-MM-DD",
      observed: bytesInAscii(data.subarray(0, 200)),
    }];
  }
  const sizes = archive.members.filter((member) => payload.has(member.name));
  const bytes = sizes.reduce((sum, member) => sum + member.size, 0);
  return checkTagFile(archive, layout.BAG_INFO, utf8(
    `External-Identifier: ${archive.top}\n` +
    `Bagging-Date: ${date}\n` +
    `Payload-Oxum: ${bytes}.${payload.size}\n`,
  ));
}

function isDate(text: string): boolean {
  const moment = new Date(`${text}T00:00:00Z`);
  return !text.startsWith("0000") && !isNaN(+moment) && moment.toISOString().startsWith(text) && text !== "";
}
