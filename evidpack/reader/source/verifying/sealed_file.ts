// What a file entry says, once its opening has been checked against its commitments.

import * as layout from "../layout.ts";
import { own, type JsonObject } from "../proof/canonical.ts";
import { Refusal } from "../refusal.ts";
import { unhex } from "../text.ts";

export interface SealedFile {
  entry: number;
  path: string;
  size: number;
  sha256: Uint8Array;
}

/** Takes the values of a file entry; a Refusal where one is missing or of another type. */
export function sealedFile(number: number, values: JsonObject): SealedFile {
  const refuse = (message: string): never => {
    throw new Refusal(message, { path: layout.OPENINGS, line: number + 1 });
  };
  const text = (name: string): string => {
    const value = own(values, name);
    return typeof value === "string" ? value : refuse(`file entry ${number} lacks a text "${name}"`);
  };
  const whole = (name: string): number => {
    const value = own(values, name);
    return typeof value === "number" && Number.isInteger(value) && value >= 0
      ? value
      : refuse(`file entry ${number} lacks a whole number "${name}"`);
  };
  const digest = (name: string): Uint8Array => {
    const bytes = unhex(text(name));
    return bytes?.length === 32
      ? bytes
      : refuse(`file entry ${number}: "${name}" is no SHA-256 in lower-case hex`);
  };
  const sealed = { entry: number, path: text("path"), size: whole("size"), sha256: digest("sha256") };
  text("origin");
  text("item_kind");
  text("modified");
  if (Object.hasOwn(values, "original_name")) text("original_name");
  if (Object.hasOwn(values, "pixel_root")) {
    digest("pixel_root");
    whole("width_px");
    whole("height_px");
    text("decoder");
  }
  return sealed;
}
