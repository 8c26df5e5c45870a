// The verdict, the three answers, the steps, the certificates used, and what no seal proves.

import {
  type Answer, NOT_PROVED, type Report, type Step, STEP_TITLES, verdictOf,
} from "../verifying/report.ts";
import { type Fault, placeOf } from "../refusal.ts";
import { el, freshId, shown } from "./dom.ts";
import { size } from "./format.ts";
import { sign, signOf } from "./marks.ts";
import { facts } from "./table.ts";
import { CAUTIONS, CLAIMED, HEADLINES, SENTENCES, stepWords } from "./words.ts";

const MAX_FAULTS_SHOWN = 50;
const YES: Record<string, string> = { holds: "Yes", fails: "No" };

export const toneOf = (report: Report): "good" | "bad" | "open" => {
  const verdict = verdictOf(report);
  return verdict === "does not verify" ? "bad" : verdict.startsWith("intact") ? "open" : "good";
};

/** Verdict and sentence; it stays in sight where the file does not verify. */
export function banner(report: Report): HTMLElement {
  const verdict = verdictOf(report);
  const tone = toneOf(report);
  return el("div", { class: `banner ${tone}`, role: tone === "bad" ? "alert" : "status" },
    sign(tone, true),
    el("div", {},
      el("h2", { tabindex: -1 }, HEADLINES[verdict]),
      el("p", {}, tone === "bad" ? whatFailed(report) : SENTENCES[verdict])));
}

/** The failing steps by name, and the first fault. */
export function whatFailed(report: Report): string {
  const failing = report.steps.filter(({ outcome }) => outcome === "fails");
  if (!failing.length) return SENTENCES["does not verify"];
  const names = failing.map(({ number }) => `step ${number} (${STEP_TITLES[number]})`).join(", ");
  const [fault] = failing.flatMap(({ faults }) => faults);
  const more = failing.reduce((sum, { faults }) => sum + faults.length, 0) - 1;
  const rest = more > 0 ? ` And ${more} more.` : "";
  const first = fault === undefined ? "" : ` ${shown(placeOf(fault))}: ${shown(fault.message)}.`;
  return `${names.charAt(0).toUpperCase()}${names.slice(1)} ${failing.length > 1 ? "fail" : "fails"}.${first}${rest}`;
}

export function resultView(report: Report, exports: HTMLElement): HTMLElement {
  return el("div", { class: "result" },
    el("section", {}, el("h3", {}, "Three answers, kept apart"), ...answersOf(report)),
    el("section", {}, el("h3", {}, "The steps"),
      el("p", { class: "quiet" }, "Open a step to see what it means, what was found, and how to repeat it by hand."),
      el("ol", { class: "steps" }, ...report.steps.map((step) => stepItem(step, report)))),
    el("section", {}, el("h3", {}, "The file"), fileFacts(report)),
    el("section", {}, el("h3", {}, "Certificates"),
      report.certificates.length
        ? el("div", {}, ...report.certificates.map((one) => facts([
          [one.role === "signing certificate" ? "Signing certificate (from the file)" : one.role === "anchor"
            ? "Authority for signers (from you)" : "Authority for time stamps (from you)", shown(one.subject)],
          ["Fingerprint of the certificate", digits(one.fingerprint)],
          ["Fingerprint of its key", digits(one.keyFingerprint)],
        ])))
        : el("p", {}, "None was examined.")),
    el("section", {}, el("h3", {}, "Not proved by this or any seal"),
      el("ul", {}, ...NOT_PROVED.map((one) => el("li", {}, one)))),
    el("section", {}, el("h3", {}, "Cautions"),
      el("ul", {}, ...CAUTIONS.map((one) => el("li", {}, one)))),
    exports);
}

export const digits = (text: string): HTMLElement => el("span", { class: "digits" }, text);

function answersOf(report: Report): HTMLElement[] {
  return Object.entries(report.answers).map(([whose, answers]) =>
    el("dl", { class: "answers", "aria-label": `Answers for the ${whose}` },
      answer("Signature valid?", answers.signature),
      answer("Signer known?", answers.signer),
      answer("Time established?", answers.time)));
}

function answer(question: string, { outcome, sentence }: Answer): HTMLElement {
  return el("div", {},
    el("dt", {}, question),
    el("dd", {}, el("strong", {}, sign(signOf(outcome)), YES[outcome] ?? "Not established"),
      el("p", {}, capital(shown(sentence)) + ".")));
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

function stepItem(step: Step, report: Report): HTMLElement {
  const words = stepWords(step.number, shellQuoted(report.fileName), report.reference ?? "FOLDER");
  const open = step.outcome === "fails";
  return el("li", {},
    el("details", { open, class: `step ${signOf(step.outcome)}` },
      el("summary", {},
        sign(signOf(step.outcome)),
        el("span", { class: "number" }, `${step.number}`),
        el("span", { class: "title" }, capital(STEP_TITLES[step.number])),
        el("span", { class: "outcome" }, capital(step.outcome))),
      el("div", { class: "inside" },
        el("h4", {}, words.question),
        el("p", {}, words.meaning),
        el("p", {}, el("strong", {}, "Found: "), capital(shown(step.examined)) + "."),
        step.faults.length > 0 && faultList(step.faults),
        step.next !== null && el("p", { class: "next" }, el("strong", {}, "What to do: "), step.next),
        byHand(words.byHand, words.answer))));
}

function faultList(faults: Fault[]): HTMLElement {
  const more = faults.length - MAX_FAULTS_SHOWN;
  return el("ul", { class: "faults" },
    ...faults.slice(0, MAX_FAULTS_SHOWN).map((fault) => el("li", {},
      el("strong", {}, shown(placeOf(fault))), `: ${shown(fault.message)}`,
      fault.expected !== null
        && facts([["Expected", shown(fault.expected)], ["Found", shown(fault.observed ?? "")]]))),
    more > 0 && el("li", {}, `and ${more} more, in the saved report`));
}

function byHand(command: string, answer: string): HTMLElement {
  if (!command) return el("p", { class: "quiet" }, answer);
  const note = el("span", { role: "status", class: "quiet" });
  const id = freshId();
  return el("div", { class: "by-hand" },
    el("h4", { id }, "By hand"),
    el("pre", { tabindex: 0, "aria-labelledby": id }, command),
    el("p", { class: "quiet" }, answer),
    el("button", { type: "button", class: "screen-only", click: async () => {
      try {
        await navigator.clipboard.writeText(command);
        note.textContent = " Copied.";
      } catch {
        note.textContent = " This browser does not let the page copy: select the text.";
      }
    } }, "Copy the command"), note);
}

/** A file name as it may stand in a command. */
function shellQuoted(name: string): string {
  return /^[A-Za-z0-9._-]+$/.test(name) ? name : `'${shown(name).replace(/'/g, "'\\''")}'`;
}

function fileFacts(report: Report): HTMLElement {
  return facts([
    ["Name", shown(report.fileName)],
    ["Size", `${size(report.size)} (${report.size} bytes)`],
    ["SHA-256 of the file", el("span", { class: "digits", "data-digest": "" }, report.sha256 ?? "being computed …")],
    ["Day reference", report.reference ?? "not readable"],
    ["SHA-256 of the seal statement", report.statementSha256 === null ? null : digits(report.statementSha256)],
    ...report.claimedTimes.map(([whose, time]): [string, string | null] => [CLAIMED[whose], time]),
    ["Examined", `${report.verifiedAt} by this computer's clock`],
  ]);
}
