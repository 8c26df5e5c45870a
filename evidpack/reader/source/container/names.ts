// Which names may stand in an archive: those that every common program would write to disk
// unchanged. Two names are twins if some program would take the one for the other: they differ
// only in case or in normalisation, or one is a folder of the other.

import * as limits from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { begin, inAscii, utf8 } from "../text.ts";
import { EDGES } from "./names_table.ts";

const FORBIDDEN = new Set('<>:"|?*\\%');
const DEVICES = new Set([
  "con", "prn", "aux", "nul", "conin$", "conout$", "clock$",
  ...["com", "lpt"].flatMap((device) => Array.from("0123456789¹²³", (digit) => device + digit)),
]);
const PLAIN = /^[A-Za-z0-9_][A-Za-z0-9_.-]*(?<!\.)$/;
const TOP = /^[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9-])?$/;

const edges: number[] = [];
for (const step of EDGES.split(" ")) edges.push((edges.at(-1) ?? 0) + parseInt(step, 36));

/** Refuse a top folder that is no reference: ASCII letters, digits, hyphen, dot. */
export function requireTop(top: string): void {
  const length = Array.from(top).length;
  if (length > limits.MAX_REFERENCE_CHARACTERS) {
    throw new Refusal("the reference is too long", {
      expected: `at most ${limits.MAX_REFERENCE_CHARACTERS} characters`,
      observed: String(length),
    });
  }
  if (!TOP.test(top) || isDevice(top)) {
    throw new Refusal("the top folder has a name that is no reference", {
      expected: "ASCII letters, digits, hyphen and dot, no dot at either end, no device name",
      observed: inAscii(top),
    });
  }
}

/** Refuse a name, relative to the top folder, that some program would not keep as it is. */
export function requireName(name: string): void {
  const reason = nameFault(name);
  if (reason !== null) {
    const [expected, what] = reason;
    throw new Refusal(`the name ${inAscii(begin(name, 200))} is not allowed: ${what}`, {
      expected,
      observed: inAscii(begin(name, 200)),
    });
  }
}

type Reason = [expected: string, what: string] | null;

function nameFault(name: string): Reason {
  if (!name) return ["a name", "it is empty"];
  const parts = name.split("/");
  for (const part of parts) {
    const reason = partFault(part);
    if (reason !== null) return reason;
  }
  if (parts.length > limits.MAX_PATH_DEPTH) {
    return [`at most ${limits.MAX_PATH_DEPTH} parts`, `it has ${parts.length} parts`];
  }
  const size = utf8(name).length;
  if (size > limits.MAX_NAME_BYTES) {
    return [`at most ${limits.MAX_NAME_BYTES} bytes of UTF-8`, `it has ${size} bytes`];
  }
  return null;
}

function partFault(part: string): Reason {
  if (!part) return ["no empty part", "it is absolute, ends in a slash or has an empty part"];
  if (part === "." || part === "..") {
    return ["no '.' or '..'", "it points to this or the parent folder"];
  }
  if (!PLAIN.test(part)) {
    for (const character of part) {
      if (!mayStand(character)) {
        const point = (character.codePointAt(0) as number).toString(16).toUpperCase();
        return ["no such character", `it has the character U+${point.padStart(4, "0")}`];
      }
    }
    if (/[ .]$/.test(part)) {
      return ["no space or dot at the end", "a part ends in a space or a dot"];
    }
    if (part.startsWith(" ")) return ["no space at the start", "a part starts with a space"];
    if (part.normalize("NFC") !== part) {
      return ["Unicode normalisation form NFC", "it is not in form NFC"];
    }
  }
  if (isDevice(part)) return ["no name that Windows takes for a device", "a part is a device name"];
  const size = utf8(part).length;
  if (size > limits.MAX_NAME_PART_BYTES) {
    return [`parts of at most ${limits.MAX_NAME_PART_BYTES} bytes`, `a part has ${size} bytes`];
  }
  return null;
}

/** Whether a character may stand in a name: visible, assigned in Unicode 3.2, portable. */
export function mayStand(character: string): boolean {
  const point = character.codePointAt(0) as number;
  if (point < 0x80) return point >= 0x20 && point < 0x7f && !FORBIDDEN.has(character);
  let low = 0;
  let high = edges.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (edges[middle] <= point) low = middle + 1;
    else high = middle;
  }
  return low % 2 === 1;
}

function isDevice(part: string): boolean {
  return DEVICES.has(part.split(".")[0].replace(/ +$/, "").toLowerCase());
}

/**
 * The form in which twins are alike: canonical caseless match (Unicode, section 3.13, D145). Lower
 * case is taken character by character, since JavaScript gives a final sigma another form.
 */
export function twinKey(name: string): string {
  if (/^[\x00-\x7f]*$/.test(name)) return name.toLowerCase();
  const upper = name.normalize("NFD").toUpperCase();
  return Array.from(upper, (character) => character.toLowerCase()).join("").normalize("NFD");
}

/** The names of one archive so far; refuses any that is bad or has a twin among them. */
export class NameTable {
  // The key of each file, and for each folder its key with a slash behind.
  readonly #keys = new Set<string>();
  // Each folder's spelling.
  readonly #folders = new Set<string>();

  add(name: string): void {
    requireName(name);
    if (this.#clashes(name)) {
      throw new Refusal(
        `two names could be taken for one another: ${inAscii(begin(name, 200))}`,
        {
          expected: "no name that is another's twin in case, normalisation or as its folder",
          observed: inAscii(begin(name, 200)),
        },
      );
    }
    for (const folder of foldersOf(name)) {
      if (this.#folders.has(folder)) continue;
      if (this.#folders.size >= limits.MAX_FOLDERS) {
        throw new Refusal("limit reached: number of folders", {
          expected: `at most ${limits.MAX_FOLDERS}`,
          observed: String(this.#folders.size + 1),
        });
      }
      this.#folders.add(folder);
      this.#keys.add(twinKey(folder) + "/");
    }
    this.#keys.add(twinKey(name));
  }

  #clashes(name: string): boolean {
    for (const folder of foldersOf(name)) {
      if (this.#folders.has(folder)) continue;
      const key = twinKey(folder);
      if (this.#keys.has(key) || this.#keys.has(key + "/")) return true;
    }
    const key = twinKey(name);
    return this.#keys.has(key) || this.#keys.has(key + "/");
  }
}

function foldersOf(name: string): string[] {
  const folders: string[] = [];
  for (let at = name.indexOf("/"); at >= 0; at = name.indexOf("/", at + 1)) {
    folders.push(name.slice(0, at));
  }
  return folders;
}
