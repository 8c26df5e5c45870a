// Builds built/reader.html from source/: the same bytes from the same sources and package-lock.json.
//
//     npm ci && npm run build

import { build } from "esbuild";
import { createHash } from "node:crypto";
import { mkdir, readFile, writeFile } from "node:fs/promises";
import { fileURLToPath } from "node:url";

const here = (path) => fileURLToPath(new URL(path, import.meta.url));

async function bundled(entry) {
  const { outputFiles } = await build({
    entryPoints: [here(entry)],
    bundle: true,
    minify: true,
    write: false,
    format: "iife",
    target: "es2022",
    charset: "ascii",
    legalComments: "none",
    absWorkingDir: here("."),
    logLevel: "warning",
  });
  return outputFiles[0].text.trim();
}

async function moduleOf(entry) {
  const { outputFiles } = await build({
    entryPoints: [here(entry)], bundle: true, write: false, format: "esm",
  });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].text).toString("base64")}`);
}

const hashOf = (text) => `sha256-${createHash("sha256").update(text).digest("base64")}`;

async function versionOf() {
  const text = await readFile(here("../__init__.py"), "utf8");
  const found = /^__version__ = "([^"]+)"$/m.exec(text);
  if (found === null) throw new Error("no version in evidpack/__init__.py");
  return found[1];
}

const { shell, policyFor } = await moduleOf("source/shell.ts");
const style = (await bundled("source/page/style.css")).trim();
const engine = await bundled("source/engine/main.ts");
const page = await bundled("source/page/main.ts");
if (/<\/style/i.test(style)) throw new Error("the style would end its own element");
for (const text of [engine, page]) {
  if (/<\/script|<!--/i.test(text)) throw new Error("a script would end its own element");
}
const html = shell({
  policy: policyFor(hashOf(style), hashOf(page)),
  version: await versionOf(),
  style,
  engine,
  page,
});
await mkdir(here("built"), { recursive: true });
await writeFile(here("built/reader.html"), html);
const digest = createHash("sha256").update(html).digest("hex");
console.log(`built/reader.html  ${Buffer.byteLength(html)} bytes  SHA-256 ${digest}`);
console.log(`style ${style.length}, engine ${engine.length}, page ${page.length}`);
