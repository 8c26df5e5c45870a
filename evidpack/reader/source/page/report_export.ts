// The report to keep: as JSON for machines, and as one HTML page without scripts for people.

import { NOT_PROVED, type Report, reportJson, STEP_TITLES, verdictOf } from "../verifying/report.ts";
import { placeOf } from "../refusal.ts";
import { el, save, shown } from "./dom.ts";
import { whatFailed } from "./result_view.ts";
import type { Self } from "./self.ts";
import { CAUTIONS, CLAIMED, HEADLINES, SENTENCES, stepWords } from "./words.ts";

/** Buttons that save or print; they wait for the digest of the whole file. */
export function exportPanel(report: () => Report, self: Self): HTMLElement {
  const buttons = [
    el("button", { type: "button", disabled: true, click: () =>
      save(nameFor(report(), "html"), new Blob([htmlReport(report(), self)], { type: "text/html" })) },
    "Save the report (HTML)"),
    el("button", { type: "button", disabled: true, click: () =>
      save(nameFor(report(), "json"), new Blob([jsonReport(report(), self)], { type: "application/json" })) },
    "Save the report (JSON)"),
    el("button", { type: "button", click: () => window.print() }, "Print this page"),
  ];
  return el("section", { class: "exports" }, el("h3", {}, "Keep the result"),
    el("p", { class: "choose" }, ...buttons),
    el("p", { class: "quiet" }, `evidpack reader ${self.version}, SHA-256 of this page `,
      el("span", { class: "digits" }, self.sha256 ?? "")));
}

/** Once the digest is known. */
export function allowExport(panel: HTMLElement): void {
  for (const button of panel.querySelectorAll("button")) button.disabled = false;
}

const nameFor = (report: Report, ending: string): string =>
  `verification-${(report.reference ?? "unreadable").replace(/[^A-Za-z0-9.-]/g, "_")}.${ending}`;

export function jsonReport(report: Report, self: Self): string {
  const reader = { version: self.version, sha256: self.sha256 };
  return JSON.stringify({ reader, ...reportJson(report), cautions: CAUTIONS }, null, 2) + "\n";
}

const escape = (text: string): string => shown(text).replace(/[&<>"']/g, (mark) => `&#${mark.charCodeAt(0)};`);

export function htmlReport(report: Report, self: Self): string {
  const verdict = verdictOf(report);
  const row = (name: string, value: string | null): string =>
    value === null ? "" : `<tr><th scope="row">${escape(name)}</th><td>${escape(value)}</td></tr>`;
  const list = (items: readonly string[]): string => `<ul>${items.map((one) => `<li>${escape(one)}</li>`).join("")}</ul>`;
  const answers = Object.entries(report.answers).map(([whose, { signature, signer, time }]) => `
<h2>Three answers for the ${escape(whose)}</h2><table>
${row("Signature valid", `${signature.outcome}: ${signature.sentence}`)}
${row("Signer known", `${signer.outcome}: ${signer.sentence}`)}
${row("Time established", `${time.outcome}: ${time.sentence}`)}</table>`).join("");
  const steps = report.steps.map((step) => {
    const words = stepWords(step.number, "FILE", report.reference ?? "FOLDER");
    const faults = step.faults.map((fault) => `${placeOf(fault)}: ${fault.message}`
      + (fault.expected === null ? "" : ` (expected ${fault.expected}; found ${fault.observed})`));
    return `<section><h3>${step.number} ${STEP_TITLES[step.number]}: ${step.outcome}</h3>
<p>${escape(words.question)} ${escape(step.examined)}.</p>${faults.length ? list(faults) : ""}
${step.next === null ? "" : `<p>What to do: ${escape(step.next)}</p>`}
${words.byHand ? `<details><summary>By hand</summary><pre>${words.byHand.replace(/[&<>]/g, (mark) => `&#${mark.charCodeAt(0)};`)}</pre></details>` : ""}</section>`;
  }).join("\n");
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Verification report: ${escape(report.reference ?? report.fileName)}</title>
<style>body{font:1rem/1.5 system-ui,sans-serif;max-width:50rem;margin:2rem auto;padding:0 1rem;overflow-wrap:anywhere}
h1,h2,h3{font-family:Georgia,serif}table{border-collapse:collapse}th,td{text-align:left;vertical-align:top;padding:.2rem 1rem .2rem 0}
pre{white-space:pre-wrap}section{break-inside:avoid}</style></head><body>
<h1>${escape(HEADLINES[verdict])}</h1>
<p>${escape(verdict === "does not verify" ? whatFailed(report) : SENTENCES[verdict])}</p>
<table>
${row("File", report.fileName)}${row("Size", `${report.size} bytes`)}${row("SHA-256 of the file", report.sha256)}
${row("Day reference", report.reference)}${row("SHA-256 of the seal statement", report.statementSha256)}
${report.claimedTimes.map(([whose, time]) => row(CLAIMED[whose], time)).join("")}${row("Examined", `${report.verifiedAt} by the clock of the computer used`)}
${row("Examined with", `evidpack reader ${self.version}, SHA-256 ${self.sha256}`)}</table>
${answers}
<h2>Steps</h2>
${steps}
<h2>Certificates</h2>
<table>${report.certificates.map((one) => row(one.role, `${one.subject}; fingerprint of the certificate ${one.fingerprint}; of its key ${one.keyFingerprint}`)).join("") || row("none", "none was given or examined")}</table>
<h2>Not proved by this or any seal</h2>
${list(NOT_PROVED)}
<h2>Cautions</h2>
${list(CAUTIONS)}
</body></html>
`;
}
