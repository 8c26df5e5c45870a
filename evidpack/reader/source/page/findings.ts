// Findings of the checks, as they were sealed.

import type { ShownEntry } from "../engine/day_view.ts";
import { own } from "../proof/canonical.ts";
import { textOf } from "./day.ts";
import type { Day } from "./day.ts";
import { el, shown } from "./dom.ts";
import { plain } from "./format.ts";
import { sign, signOf } from "./marks.ts";
import { pagedList } from "./paged_list.ts";
import { facts } from "./table.ts";

const ORDER = ["fail", "query", "not determinable", "pass", "not applicable"];
const outcomeOf = ({ values }: ShownEntry): string => textOf(values, "outcome") ?? "";
const adverse = ({ values }: ShownEntry): boolean => own(values, "adverse") === true;

/** Findings as blocks, one under the other. */
export function findingBlocks(findings: ShownEntry[]): HTMLElement {
  return el("ul", { class: "findings" }, ...findings.map(block));
}

function block(finding: ShownEntry): HTMLElement {
  const { values } = finding;
  const outcome = outcomeOf(finding);
  const unit = plain(own(values, "unit"));
  const withUnit = (name: string): string => {
    const text = shown(plain(own(values, name)));
    return text && unit && !["names", "date"].includes(unit) ? `${text} ${unit}` : text;
  };
  return el("li", { class: adverse(finding) ? "adverse" : "" },
    el("p", { class: "finding-head" }, sign(signOf(outcome)),
      el("strong", {}, `${outcome}${adverse(finding) ? ", adverse" : ""}`),
      ` · check ${shown(textOf(values, "check") ?? "?")} · ${shown(textOf(values, "subject") ?? "")}`),
    el("p", {}, shown(textOf(values, "sentence") ?? "")),
    !finding.holds && notAsSealed(),
    facts([
      ["Measured", withUnit("measured")],
      ["Limit", withUnit("limit")],
      ["Limit from", shown(plain(own(values, "source")))],
      ["Who can help", shown(plain(own(values, "advice")))],
      ["Disclosure", own(values, "undermines") === true ? "to be considered: may undermine or assist" : ""],
      ["Entry", String(finding.entry)],
    ]));
}

/** Beside what does not open as its ledger line commits to, or a file that a step found fault with. */
export const notAsSealed = (what = "entry"): HTMLElement =>
  el("span", { class: "not-as-sealed" }, sign("bad"), `This ${what} is not as it was sealed.`);

export function findingsView(day: Day): HTMLElement {
  const findings = day.view.findings.slice().sort((one, other) =>
    Number(adverse(other)) - Number(adverse(one))
    || ORDER.indexOf(outcomeOf(one)) - ORDER.indexOf(outcomeOf(other)) || one.entry - other.entry);
  if (!findings.length) return el("p", {}, "There is no finding in this file.");
  const checks = [...new Set(findings.map(({ values }) => textOf(values, "check") ?? "?"))]
    .sort((one, other) => one.localeCompare(other, "en", { numeric: true }));
  return pagedList({
    label: "findings",
    items: findings,
    noun: ["finding", "findings"],
    perPage: 50,
    text: ({ values }) => Object.values(values).map(plain).join(" ").toLowerCase(),
    choices: [
      { label: "Outcome", options: [
        { title: "any", keeps: () => true },
        { title: "adverse", keeps: adverse },
        ...ORDER.map((outcome) => ({ title: outcome, keeps: (one: ShownEntry) => outcomeOf(one) === outcome })),
      ] },
      { label: "Check", options: [
        { title: "any", keeps: () => true },
        ...checks.map((check) => ({
          title: check, keeps: ({ values }: ShownEntry) => (textOf(values, "check") ?? "?") === check,
        })),
      ] },
    ],
    render: findingBlocks,
  });
}
