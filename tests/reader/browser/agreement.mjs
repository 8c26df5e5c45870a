// Gives every case to the engine inside the opened page, one after the other, and some of them to the
// page itself, as a person would; gives the reports in order.

import { answer, asked, choose, launch, open, paste, pasteList, savedReport } from "./page.mjs";
import { fromSources } from "./sources.mjs";

const { cases, throughPage } = asked();
const { reportJson } = await fromSources('export { reportJson } from "./source/verifying/report.ts";');
const browser = await launch();
const seen = { strangers: [], errors: [] };
const told = { reports: await byEngine(), shown: await byPage() };
await browser.close();
answer({ ...told, ...seen });

/** The same engine, in the same worker and under the same policy as the page runs it. */
async function byEngine() {
  const held = await open(browser);
  await held.page.evaluate(() => {
    document.body.append(Object.assign(document.createElement("input"), { type: "file", id: "cases", multiple: true }));
  });
  await held.page.setInputFiles("#cases", cases.map(({ file }) => file));
  const given = cases.map(({ anchors, tsaAnchors, lists, accept, passphrase }) => ({
    anchors: derOf(anchors), tsaAnchors: derOf(tsaAnchors), lists: derOf(lists), accept, passphrase,
  }));
  const reports = await held.page.evaluate(async (each) => {
    const engine = new Blob([document.getElementById("engine").textContent], { type: "text/javascript" });
    const worker = new Worker(URL.createObjectURL(engine));
    const bytes = (text) => Uint8Array.from(atob(text), (mark) => mark.charCodeAt(0));
    const examined = (file, { anchors, tsaAnchors, lists, accept, passphrase }) => new Promise((resolve, reject) => {
      const choices = {
        anchors: anchors.map(bytes), tsaAnchors: tsaAnchors.map(bytes), revocationLists: lists.map(bytes),
        timeStamp: null, acceptClaimedTime: accept, verifiedAt: new Date().toISOString(),
      };
      worker.onmessage = ({ data }) => {
        if (data.news === "report") resolve(data.report);
        else if (data.news === "locked" && data.failure === null) worker.postMessage({ task: "unlock", passphrase, choices });
        else if (data.news === "defect") resolve({ defect: data.message });
      };
      worker.onerror = (event) => reject(new Error(event.message));
      worker.postMessage({ task: "verify", file, choices });
    });
    const files = document.getElementById("cases").files;
    const found = [];
    for (let at = 0; at < each.length; at++) found.push(await examined(files[at], each[at]));
    return found;
  }, given);
  await close(held);
  // A defect is an answer that no command line gives.
  return reports.map((one) => one.defect === undefined ? reportJson(one)
    : { verdict: `defect: ${one.defect}`, steps: [], certificates: [], statement_sha256: null, reference: null });
}

async function byPage() {
  const reports = {};
  for (const number of throughPage) {
    const one = cases[number];
    const held = await open(browser, { acceptDownloads: true });
    if (one.anchors) await paste(held.page, 0, one.anchors);
    if (one.tsaAnchors) await paste(held.page, 1, one.tsaAnchors);
    if (one.lists) await pasteList(held.page, one.lists);
    if (one.accept) await held.page.getByLabel(/Accept the time/).check();
    await choose(held.page, one.file);
    reports[number] = JSON.parse(await savedReport(held.page, "JSON"));
    await close(held);
  }
  return reports;
}

function derOf(pem) {
  const found = pem.matchAll(/-----BEGIN [A-Z0-9 ]+-----([^-]+)-----END/g);
  return Array.from(found, ([, text]) => text.replace(/\s/g, ""));
}

async function close({ context, strangers, errors }) {
  await context.close();
  seen.strangers.push(...strangers);
  seen.errors.push(...errors);
}
