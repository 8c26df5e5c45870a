// The day along a line of time, and the same as a list.

import type { ShownEntry } from "../engine/day_view.ts";
import type { Report } from "../verifying/report.ts";
import { own } from "../proof/canonical.ts";
import { type Day, records, textOf } from "./day.ts";
import { el, shown, svg } from "./dom.ts";
import { clockOf, measured, plain, timeText } from "./format.ts";
import { pagedList } from "./paged_list.ts";
import { table } from "./table.ts";

interface Moment {
  lane: string;
  at: number;
  shown: string;
  what: string;
  entry: string;
}

const LANES = ["Session", "Test", "Clock check", "Reading", "Still", "Other", "Seal"];

export function timelineView(day: Day, report: Report): HTMLElement {
  const { moments, without } = momentsOf(day, report);
  if (!moments.length) return el("p", {}, "No recorded time in this file names a single instant.");
  moments.sort((one, other) => one.at - other.at);
  return el("div", { class: "timeline" },
    el("p", {}, "Times as they were recorded, each by its own clock. The chain fixes the order of sealing, "
      + "not the order in which captures were taken."),
    ...duties(moments).map(drawing),
    without > 0 && el("p", { class: "quiet" },
      `${without} recorded times name no single instant (no zone, or an hour that was passed twice or not at all) `
      + "and are not on the line."),
    pagedList({
      label: "the timeline",
      items: moments,
      noun: ["moment", "moments"],
      perPage: 40,
      text: (one) => `${one.lane} ${one.shown} ${one.what}`.toLowerCase(),
      choices: [{ label: "What", options: [
        { title: "any", keeps: () => true },
        ...LANES.map((lane) => ({ title: lane.toLowerCase(), keeps: (one: Moment) => one.lane === lane })),
      ] }],
      render: (page) => table("Moments in order of time", ["Time", "What", "Detail", "Entry"],
        page.map((one) => [one.shown, one.lane, one.what, one.entry])),
    }));
}

function momentsOf(day: Day, report: Report): { moments: Moment[]; without: number } {
  const moments: Moment[] = [];
  let without = 0;
  const add = (lane: string, one: ShownEntry, name: string, what: string): void => {
    const value = own(one.values, name);
    const clock = clockOf(value);
    if (clock === null) return;
    if (clock.instant === null) without++;
    else moments.push({ lane, at: clock.instant, shown: timeText(value), what: shown(what), entry: String(one.entry) });
  };
  const text = (one: ShownEntry, name: string): string => plain(own(one.values, name));
  for (const one of records(day.view, "session")) {
    add("Session", one, "start", `session ${text(one, "id")} begins`);
    add("Session", one, "end", `session ${text(one, "id")} ends`);
  }
  for (const one of records(day.view, "device_test")) add("Test", one, "time", `${text(one, "test")}: ${text(one, "result")}`);
  for (const one of records(day.view, "clock_check")) add("Clock check", one, "time", `clock ${text(one, "clock")}`);
  for (const { number, reading } of day.captures) {
    if (reading === null) continue;
    const about = [measured(reading.values, "speed"), measured(reading.values, "range")].filter(Boolean).join(" at ");
    add("Reading", reading, "time", `capture ${number}: ${about}`);
  }
  for (const one of records(day.view, "still")) add("Still", one, "time", textOf(one.values, "path") ?? "");
  for (const one of records(day.view, "deletion")) add("Other", one, "time", `images deleted: ${text(one, "reason")}`);
  for (const one of records(day.view, "report")) add("Other", one, "signed", "report signed");
  for (const one of records(day.view, "event")) add("Other", one, "time", text(one, "event"));
  for (const [whose, time] of report.claimedTimes) {
    const clock = clockOf(time ?? undefined);
    if (clock === null || clock.instant === null) continue;
    const what = whose === "sealer" ? "sealed, as claimed" : "this pack made, as claimed";
    moments.push({ lane: "Seal", at: clock.instant, shown: timeText(time ?? undefined), what, entry: "" });
  }
  return { moments, without };
}

const HOUR = 3_600_000;

/** Groups with less than six hours between neighbours: a line that spans a week shows nothing. */
function duties(moments: Moment[]): Moment[][] {
  const groups: Moment[][] = [];
  for (const moment of moments) {
    const last = groups.at(-1)?.at(-1);
    if (last !== undefined && moment.at - last.at < 6 * HOUR) groups.at(-1)!.push(moment);
    else groups.push([moment]);
  }
  return groups.filter((group) => group.length > 2);
}

const [LEFT, WIDTH, ROW, TOP] = [96, 900, 26, 26];

function drawing(moments: Moment[]): HTMLElement {
  const first = Math.floor(moments[0].at / (HOUR / 2)) * (HOUR / 2);
  const last = Math.ceil((moments.at(-1)!.at + 1) / (HOUR / 2)) * (HOUR / 2);
  const x = (at: number): number => LEFT + ((at - first) / (last - first)) * (WIDTH - LEFT - 16);
  const lanes = LANES.filter((lane) => moments.some((one) => one.lane === lane));
  const height = TOP + lanes.length * ROW + 6;
  const label = `${moments[0].shown.slice(0, 10)}: ${lanes.map((lane) =>
    `${moments.filter((one) => one.lane === lane).length} ${lane.toLowerCase()}`).join(", ")}. The list below has them all.`;
  // The hours are written in the offset in which the first time was recorded.
  const offset = offsetOf(moments[0].shown);
  return el("figure", {},
    el("figcaption", {}, `${moments[0].shown.slice(0, 10)}, hours at offset ${moments[0].shown.split(" ")[2]}`),
    el("div", { class: "scroll", tabindex: 0, role: "img", "aria-label": label },
      svg("svg", { viewBox: `0 0 ${WIDTH} ${height}`, class: "line", "aria-hidden": "true" },
        ...hours(first, last, x, height, offset),
        ...lanes.flatMap((lane, row) => lanePart(lane, TOP + row * ROW + ROW / 2, moments, x)))));
}

function offsetOf(text: string): number {
  const found = /([+-])(\d\d):(\d\d)/.exec(text.split(" ")[2] ?? "");
  return found === null ? 0 : (found[1] === "-" ? -1 : 1) * (Number(found[2]) * 60 + Number(found[3])) * 60_000;
}

function hours(first: number, last: number, x: (at: number) => number, height: number, offset: number): SVGElement[] {
  const step = Math.max(HOUR, Math.ceil((last - first) / HOUR / 10) * HOUR);
  const marks: SVGElement[] = [];
  for (let at = Math.ceil((first + offset) / step) * step - offset; at <= last; at += step) {
    const hour = new Date(at + offset).toISOString().slice(11, 16);
    marks.push(svg("path", { d: `M${x(at)} ${TOP - 6}V${height}`, class: "hour" }),
      svg("text", { x: x(at), y: 14, "text-anchor": "middle" }, hour));
  }
  return marks;
}

function lanePart(lane: string, y: number, moments: Moment[], x: (at: number) => number): SVGElement[] {
  const own = moments.filter((one) => one.lane === lane);
  const bars = lane === "Session" && own.length % 2 === 0
    ? own.filter((_, at) => at % 2 === 0).map((one, at) => svg("rect", {
      x: x(one.at), y: y - 6, width: Math.max(x(own[2 * at + 1].at) - x(one.at), 1), height: 12, class: "bar",
    }))
    : own.map((one) => svg("path", { d: `M${x(one.at)} ${y - 8}v16`, class: `tick ${lane.toLowerCase().replace(" ", "-")}` }));
  return [svg("text", { x: 4, y: y + 4 }, lane), ...bars];
}
