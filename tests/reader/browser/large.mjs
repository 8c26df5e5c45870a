// Verifies one large file and watches the memory of the browser's processes.

import { readdirSync, readFileSync } from "node:fs";
import { answer, asked, choose, launch, open, paste, savedReport } from "./page.mjs";

const { file, anchors, tsaAnchors } = asked();
const PAGE_KB = 4;

/** Resident memory, in kB, of all processes below this one. */
function residentBelow() {
  const parents = new Map();
  const resident = new Map();
  for (const name of readdirSync("/proc").filter((one) => /^\d+$/.test(one))) {
    try {
      const rest = readFileSync(`/proc/${name}/stat`, "utf8").split(") ").at(-1).split(" ");
      parents.set(Number(name), Number(rest[1]));
      // Shared pages are counted once for each process, so this is an upper bound.
      resident.set(Number(name), Number(readFileSync(`/proc/${name}/statm`, "utf8").split(" ")[1]) * PAGE_KB);
    } catch {
      // It has ended meanwhile.
    }
  }
  const isBelow = (id) => id === process.pid || (parents.has(id) && id > 1 && isBelow(parents.get(id)));
  return [...resident].filter(([id]) => id !== process.pid && isBelow(id)).reduce((sum, [, kb]) => sum + kb, 0);
}

const browser = await launch();
const { page } = await open(browser, { acceptDownloads: true });
page.setDefaultTimeout(900_000);
await paste(page, 0, anchors);
await paste(page, 1, tsaAnchors);
const before = residentBelow();
let peak = before;
const watch = setInterval(() => (peak = Math.max(peak, residentBelow())), 250);
const started = Date.now();
await choose(page, file, 900_000);
const seconds = (Date.now() - started) / 1000;
clearInterval(watch);
const report = JSON.parse(await savedReport(page, "JSON"));
await browser.close();
answer({ before, peak, seconds, report });
