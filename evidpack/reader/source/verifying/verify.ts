// Verifying a file, whatever it is: the steps in order, each independent one even where another fails.

import type { ByteSource } from "../container/archive.ts";
import { readArchive } from "../container/zip_reader.ts";
import { type BundleOptions, examineBundle } from "./examine_bundle.ts";
import { type Examined, stopped } from "./examined.ts";
import { examinePack, type PackOptions } from "./pack/examine_pack.ts";
import { isPack } from "./pack/step1_order.ts";
import { unreadable } from "./step1_container.ts";

export type Options = BundleOptions & PackOptions;

/** Steps 1 to 4, 8 and 9 of a bundle or a pack. */
export async function examine(source: ByteSource, options: Options): Promise<Examined> {
  options.onStep(1);
  let archive;
  try {
    archive = readArchive(source);
  } catch (error) {
    return stopped(options.fileName, options.size, unreadable(error, source.path));
  }
  return isPack(archive) ? examinePack(archive, options) : examineBundle(archive, options);
}
