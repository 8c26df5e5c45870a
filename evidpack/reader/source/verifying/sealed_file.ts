// What a file entry says, once its opening has been checked against its commitments.

import * as layout from "../layout.ts";
import { parseMoment } from "../moment.ts";
import { own, type JsonObject } from "../proof/canonical.ts";
import { Refusal } from "../refusal.ts";
import { begin, inAscii, unhex } from "../text.ts";

const ORIGINS = ["export", "office"];
export const ITEM_KINDS = [
  "still", "clip", "log", "report", "certificate", "document", "audio", "description", "profile",
  "rules", "unit", "notes", "run_log", "sealing", "undescribed",
];
const UTC = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:\.\d{6})?Z$/;

export interface SealedFile {
  entry: number;
  path: string;
  size: number;
  sha256: Uint8Array;
}

/** Takes the values of a file entry; a Refusal where one is missing or of another form. */
export function sealedFile(number: number, given: JsonObject): SealedFile {
  const values = new Values(number, given);
  const origin = values.choice("origin", ORIGINS);
  const path = values.text("path");
  if (!path.startsWith(`${origin}/`)) throw values.wrong("path", `a path under ${origin}/, its origin`);
  const sealed = { entry: number, path, size: values.whole("size"), sha256: values.digest("sha256") };
  values.choice("item_kind", ITEM_KINDS);
  values.utc("modified");
  if (Object.hasOwn(given, "original_name")) values.text("original_name");
  if (Object.hasOwn(given, "pixel_root")) {
    values.digest("pixel_root");
    values.whole("width_px");
    values.whole("height_px");
    values.text("decoder");
  }
  return sealed;
}

/** The values of one file entry, each asked for in its form. */
class Values {
  constructor(private readonly number: number, private readonly values: JsonObject) {}

  text(name: string): string {
    const value = own(this.values, name);
    if (typeof value !== "string") throw this.#error(` lacks a text "${name}"`);
    return value;
  }

  whole(name: string): number {
    const value = own(this.values, name);
    if (!Number.isSafeInteger(value) || (value as number) < 0) {
      throw this.#error(` lacks a whole number "${name}"`);
    }
    return value as number;
  }

  digest(name: string): Uint8Array {
    const bytes = unhex(this.text(name));
    if (bytes?.length !== 32) throw this.#error(`: "${name}" is no SHA-256 in lower-case hex`);
    return bytes;
  }

  choice(name: string, choices: readonly string[]): string {
    const value = this.text(name);
    if (!choices.includes(value)) throw this.wrong(name, choices.join(" or "));
    return value;
  }

  /** A time in the one form that a sealer writes: RFC 3339, UTC, with a Z. */
  utc(name: string): void {
    const value = this.text(name);
    const exists = UTC.test(value) && typeof parseMoment(value) === "object";
    if (!exists || value.includes(".000000")) {
      throw this.wrong(name, "a time in UTC as RFC 3339 has it, with a Z");
    }
  }

  wrong(name: string, expected: string): Refusal {
    const value = own(this.values, name);
    return new Refusal(`file entry ${this.number}: "${name}" is not of the right form`, {
      path: layout.OPENINGS,
      line: this.number + 1,
      expected,
      observed: typeof value === "string" ? begin(inAscii(value), 100) : typeof value,
    });
  }

  #error(what: string): Refusal {
    return new Refusal(`file entry ${this.number}${what}`, {
      path: layout.OPENINGS, line: this.number + 1,
    });
  }
}
