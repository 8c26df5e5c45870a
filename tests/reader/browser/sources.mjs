// Runs modules of the page's own sources in Node.

import { createRequire } from "node:module";
import { READER } from "./page.mjs";

const { build } = createRequire(READER)("esbuild");

/** What a module with these lines exports; paths in it are relative to the reader's folder. */
export async function fromSources(contents) {
  const { outputFiles } = await build({
    stdin: { contents, resolveDir: READER, loader: "ts" },
    bundle: true, write: false, format: "esm", platform: "node",
  });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].text).toString("base64")}`);
}
