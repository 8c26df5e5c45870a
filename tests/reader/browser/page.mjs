// Opens the built page in Chromium and does with it what a person would.

import { createRequire } from "node:module";
import { fileURLToPath, pathToFileURL } from "node:url";
import { readFileSync } from "node:fs";

export const READER = fileURLToPath(new URL("../../../evidpack/reader/", import.meta.url));
const require = createRequire(READER);
const { chromium } = require("playwright-core");

export const PAGE_URL = pathToFileURL(`${READER}built/reader.html`).href;
export const AXE = (() => {
  try {
    return readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
  } catch {
    return null;
  }
})();

export const launch = () => chromium.launch({
  executablePath: process.env.CHROMIUM,
  args: [
    "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
  ],
});

/** A fresh page; every request that is not the page itself or made of its own memory is kept. */
export async function open(browser, settings = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...settings });
  const page = await context.newPage();
  const strangers = [];
  const errors = [];
  page.on("request", (request) => {
    const url = request.url();
    if (url !== PAGE_URL && !url.startsWith("blob:")) strangers.push(url);
  });
  page.on("pageerror", (error) => errors.push(error.message));
  page.on("console", (message) => message.type() === "error" && errors.push(message.text()));
  await page.goto(PAGE_URL);
  await page.waitForSelector(".opening");
  return { page, context, strangers, errors };
}

/** Paste certificates into the field for signers (0) or for time stamps (1). */
export const paste = (page, number, pem) => pasteInto(page, number, "certificate", pem);

/** Paste revocation lists. */
export async function pasteList(page, pem) {
  await page.locator("details.more > summary").click();
  await pasteInto(page, 2, "list", pem);
}

async function pasteInto(page, number, noun, pem) {
  const field = page.locator("fieldset.trust").nth(number);
  if ((await field.locator("details").getAttribute("open")) === null) await field.locator("summary").click();
  await field.locator("textarea").fill(pem);
  await field.getByRole("button", { name: `Use this ${noun}` }).click();
  const wanted = (pem.match(/BEGIN /g) ?? []).length;
  // The panel may fold away as soon as it has what it needs.
  await field.locator(".anchors li").nth(wanted - 1).waitFor({ state: "attached" });
}

/** Choose a file and wait for the verdict and the digest of the file. */
export async function choose(page, file, timeout = 120_000) {
  await page.setInputFiles(".drop input[type=file]", file);
  await page.waitForSelector(".banner h2", { timeout });
  await page.waitForSelector(".exports button:enabled >> nth=2", { timeout });
}

/** The saved report of one kind, as text. */
export async function savedReport(page, kind) {
  const [download] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: `Save the report (${kind})` }).click(),
  ]);
  return readFileSync(await download.path(), "utf8");
}

/** What the pytest side asked for, in a file, and an answer to it on standard output. */
export const asked = () => JSON.parse(readFileSync(process.argv[2], "utf8"));
export const answer = (value) => process.stdout.write(JSON.stringify(value));
