// The page: opening, progress, and what is shown of a file.

import type { Contents } from "../engine/messages.ts";
import type { Report } from "../verifying/report.ts";
import { capturesView } from "./captures_view.ts";
import { type Day, dayOf } from "./day.ts";
import { disclosedView } from "./disclosed_view.ts";
import { el, shown } from "./dom.ts";
import { Examination } from "./engine_client.ts";
import { filesView } from "./files_view.ts";
import { findingsView } from "./findings.ts";
import { openPanel } from "./open_panel.ts";
import { paperworkView } from "./paperwork_view.ts";
import { passphrasePanel } from "./passphrase_panel.ts";
import { progressView } from "./progress_view.ts";
import { allowExport, exportPanel } from "./report_export.ts";
import { banner, resultView, toneOf, whatFailed } from "./result_view.ts";
import { readSelf, type Self } from "./self.ts";
import { type Part, tabs } from "./tabs.ts";
import { timelineView } from "./timeline_view.ts";

class Page {
  readonly #banner = el("div", { class: "banner-place" });
  readonly #shown = el("div", { class: "shown" });
  readonly #progress = progressView(() => this.#close());
  readonly #passphrase = passphrasePanel((passphrase) => this.#unlock(passphrase));
  readonly #open = openPanel({
    onFile: (file) => this.#begin(file),
    onChoices: () => this.#judgeAgain(),
  });
  #examination: Examination | null = null;
  #contents: Contents | null = null;
  #report: Report | null = null;
  #sha256: string | null = null;
  #failure: string | null = null;
  #exports: HTMLElement | null = null;

  constructor(private readonly self: Self) {}

  element(): HTMLElement {
    return el("div", { class: "sheet" },
      el("header", {},
        el("h1", {}, "Reader for sealed days"),
        el("p", { class: "quiet" }, `evidpack reader ${this.self.version}. Nothing you open here leaves this computer.`)),
      this.#banner,
      el("main", {}, this.#open.element, this.#progress.element, this.#passphrase.element, this.#shown),
      el("footer", {},
        el("p", {}, "This page verifies and shows; it decides nothing about guilt or admissibility."),
        el("p", { class: "quiet" }, "SHA-256 of this page: ", el("span", { class: "digits" }, this.self.sha256 ?? ""))));
  }

  #begin(file: File): void {
    this.#close();
    this.#progress.begin(file.name, file.size);
    this.#examination = new Examination(file, this.#open.choices(), {
      onStep: (number) => this.#progress.step(number),
      onBytes: (done) => this.#progress.bytes(done),
      onLocked: (failure) => this.#ask(file, failure),
      onContents: (contents) => (this.#contents = contents),
      onReport: (report) => this.#show(file, report),
      onDigest: (sha256) => this.#tellDigest(sha256),
      onDefect: (message) => this.#tellDefect(message),
    });
  }

  #ask(file: File, failure: string | null): void {
    this.#progress.end();
    this.#failure = failure;
    this.#passphrase.ask(file.name, failure);
  }

  #unlock(passphrase: string): void {
    const { file } = this.#examination!;
    this.#failure = null;
    this.#clear();
    this.#progress.begin(file.name, file.size);
    this.#examination!.unlock(passphrase, this.#open.choices());
  }

  #judgeAgain(): void {
    if (this.#report !== null) this.#examination?.judge(this.#open.choices());
  }

  #close(): void {
    this.#examination?.stop();
    this.#examination = this.#sha256 = this.#failure = null;
    this.#clear();
  }

  /** Take away what is shown of a file. */
  #clear(): void {
    this.#contents = this.#report = null;
    this.#progress.end();
    this.#passphrase.end();
    this.#banner.replaceChildren();
    this.#shown.replaceChildren();
    document.documentElement.removeAttribute("data-tone");
  }

  #show(file: File, report: Report): void {
    this.#progress.end();
    if (this.#failure === null) this.#passphrase.end();
    report.sha256 = this.#sha256;
    this.#report = report;
    this.#exports = exportPanel(() => this.#report!, this.self);
    document.documentElement.setAttribute("data-tone", toneOf(report));
    const open = Object.values(report.answers).flatMap(({ signer, time }) => [signer, time]);
    this.#open.settle(file.name, open.some(({ outcome }) => outcome === "not established")
      && toneOf(report) !== "bad");
    this.#banner.replaceChildren(banner(report));
    this.#banner.className = `banner-place ${toneOf(report)}`;
    this.#shown.replaceChildren(
      el("p", { class: "file-name" }, shown(file.name), report.reference !== null && ` · ${report.reference}`),
      tabs("Parts of the result", this.#parts(report)));
    if (this.#sha256 !== null) this.#tellDigest(this.#sha256);
    if (this.#failure !== null) return;
    this.#banner.querySelector("h2")!.focus({ preventScroll: true });
    this.#banner.scrollIntoView({ block: "start" });
  }

  #parts(report: Report): Part[] {
    const result = { title: "Result", make: () => resultView(report, this.#exports!) };
    if (report.kind === "unreadable") return [result];
    const warning = toneOf(report) === "bad" ? whatFailed(report) : null;
    const examination = this.#examination!;
    const day: Day = dayOf(this.#contents!, report, warning, (name) => examination.fetch(name));
    const disclosed = { title: "What is disclosed", make: () => disclosedView(day) };
    return [
      result,
      ...(day.pack === null ? [] : [disclosed]),
      { title: "Captures", make: () => capturesView(day) },
      { title: "Findings", make: () => findingsView(day) },
      { title: "Timeline", make: () => timelineView(day, report) },
      { title: "Certificates and tests", make: () => paperworkView(day) },
      { title: "Files", make: () => filesView(day) },
    ];
  }

  #tellDigest(sha256: string): void {
    this.#sha256 = sha256;
    if (this.#report === null) return;
    this.#report.sha256 = sha256;
    for (const place of document.querySelectorAll("[data-digest]")) place.textContent = sha256;
    if (this.#exports !== null) allowExport(this.#exports);
  }

  #tellDefect(message: string): void {
    this.#clear();
    this.#shown.replaceChildren(el("p", { role: "alert", class: "message" },
      "The page came upon something that it was not made for, so there is no verdict. Verify the file with "
      + `evidpack's command line or by hand (VERIFY.txt in the file). What the browser says: ${shown(message)}`));
  }
}

readSelf().then((self) => document.body.append(new Page(self).element()));
