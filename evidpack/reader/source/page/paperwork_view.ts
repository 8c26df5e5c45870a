// Certificates, tests, clock checks and the other records of instruments, people and places.

import type { ShownEntry } from "../engine/day_view.ts";
import { own } from "../proof/canonical.ts";
import { recordFacts } from "./captures_view.ts";
import { type Day, records, textOf } from "./day.ts";
import { el, shown } from "./dom.ts";
import { clockOf, counted, measured, plain, timeText, words } from "./format.ts";
import { notAsSealed } from "./findings.ts";
import { type Cell, table } from "./table.ts";

const BLOCKS: [kind: string, title: string, name: string][] = [
  ["certificate", "Certificates", "number"],
  ["meter", "Meters", "serial"],
  ["meter_event", "What happened to the meters", "event"],
  ["operator", "Operators", "name"],
  ["session", "Sessions", "id"],
  ["site", "Sites", "name"],
  ["limit_order", "Orders for speed limits", "number"],
  ["report", "Reports", "version"],
  ["deletion", "Deletions", "reason"],
  ["event", "Events", "event"],
  ["note", "Notes", "subject"],
  ["mark", "Marks measured in stills", "still"],
  ["unreadable", "Rows that could not be read", "reason"],
];

export function paperworkView(day: Day): HTMLElement {
  const { view } = day;
  const parts: HTMLElement[] = [];
  const tests = records(view, "device_test");
  if (tests.length) parts.push(section("Device tests", testTable(tests)));
  const checks = records(view, "clock_check");
  if (checks.length) parts.push(section("Clock checks", clockTable(checks)));
  for (const [kind, title, name] of BLOCKS) {
    const found = records(view, kind);
    if (found.length) parts.push(section(title, ...found.map((one) => block(one, name))));
  }
  if (!parts.length) return el("p", {}, "There is no record of this kind in this file.");
  const rest = Object.entries(view.counts)
    .map(([kind, number]) => counted(number, `${words(kind)} record`)).sort().join(", ");
  return el("div", { class: "paperwork" }, ...parts,
    el("p", { class: "quiet" }, `All records in this file: ${rest}.`));
}

const section = (title: string, ...children: HTMLElement[]): HTMLElement =>
  el("section", {}, el("h3", {}, title), ...children);

function block(one: ShownEntry, name: string): HTMLElement {
  const title = textOf(one.values, "certificate");
  const named = shown(plain(own(one.values, name)) || `entry ${one.entry}`);
  return el("details", { class: "record" },
    el("summary", {}, title === null ? named : `${title}: ${named}`),
    !one.holds && notAsSealed(),
    recordFacts(one.values),
    el("p", { class: "quiet" }, `Ledger entry ${one.entry}.`));
}

function testTable(tests: ShownEntry[]): HTMLElement {
  return table("Device tests in the order of the log",
    ["Test", "Result in the log", "Time", "Session", "Meter", "Measured", "Entry"],
    tests.map(({ values, entry, holds }): Cell[] => [
      shown(plain(own(values, "test"))),
      shown(plain(own(values, "result"))) + (holds ? "" : " (not as sealed)"),
      timeText(own(values, "time")),
      shown(plain(own(values, "session"))),
      shown(plain(own(values, "meter"))),
      [measured(values, "measured"), measured(values, "surveyed") && `surveyed ${measured(values, "surveyed")}`,
        measured(values, "shown_speed") && `shown ${measured(values, "shown_speed")}`].filter(Boolean).join(", "),
      String(entry),
    ]));
}

function clockTable(checks: ShownEntry[]): HTMLElement {
  return table("Clocks compared with a reference; positive: the clock was ahead",
    ["Clock", "Clock showed", "Reference showed", "Difference", "Reference", "Set right", "Entry"],
    checks.map(({ values, entry, holds }): Cell[] => [
      shown(plain(own(values, "clock"))),
      timeText(own(values, "time")) + (holds ? "" : " (not as sealed)"),
      timeText(own(values, "reference_time")),
      difference(values),
      shown(plain(own(values, "reference"))),
      plain(own(values, "resynchronised")),
      String(entry),
    ]));
}

function difference(values: ShownEntry["values"]): string {
  const one = clockOf(own(values, "time"))?.instant ?? null;
  const other = clockOf(own(values, "reference_time"))?.instant ?? null;
  if (one === null || other === null) return "not determined";
  const seconds = Math.round(one - other) / 1000;
  return `${seconds > 0 ? "+" : seconds < 0 ? "−" : ""}${Math.abs(seconds)} s`;
}
