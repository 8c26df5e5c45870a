// What a pack discloses, redacts and withholds: relied on and unused apart, each exhibit with what is
// opened of it, and a count of the entries of which nothing is said.

import type { ShownEntry } from "../engine/day_view.ts";
import type { Exhibit, PackView } from "../engine/pack_view.ts";
import { BECAME, NEUTRAL_WORDING, USES } from "../proof/accounting.ts";
import { own } from "../proof/canonical.ts";
import type { RedactionRecord } from "../proof/pack_parts.ts";
import { ENTRY_KINDS, type EntryKind } from "../proof/statement.ts";
import { recordFacts, saveButton } from "./captures_view.ts";
import { type Day, textOf } from "./day.ts";
import { el, shown } from "./dom.ts";
import { findingBlocks, notAsSealed } from "./findings.ts";
import { count, plain, timeText, words } from "./format.ts";
import { pagedList } from "./paged_list.ts";
import { picture } from "./pictures.ts";
import { redactionNote } from "./redactions.ts";
import { facts, table } from "./table.ts";

const KIND_WORDS: Record<EntryKind, [string, string]> = {
  file: ["file", "files"], record: ["record", "records"], finding: ["finding", "findings"],
};
const USE_TITLES: Record<string, string> = {
  "relied on": "Relied on", "unused": "Unused", "not relevant": "Not relevant, and described all the same",
};
const BECAME_WORDS: Record<string, string> = {
  released: "released", redacted: "redacted", inspect: "to be viewed by appointment",
  withheld: "withheld, described", withdrawn: "withdrawn: disclosed in an earlier issue",
};

export function disclosedView(day: Day): HTMLElement {
  const pack = day.pack!;
  const entries = entriesOf(day);
  const lists = USES.map((use) => {
    const exhibits = pack.exhibits.filter((one) => one.use === use);
    return exhibits.length || use !== "not relevant" ? exhibitSection(day, use, exhibits, entries) : null;
  });
  return el("div", { class: "disclosed" },
    el("section", {}, el("h3", {}, "This pack"), ...aboutPack(pack)),
    el("section", {}, el("h3", {}, "What became of every sealed entry"), ...accounting(pack)),
    ...lists);
}

function aboutPack({ stated }: PackView): HTMLElement[] {
  if (stated === null) return [el("p", {}, "The discloser's statement cannot be read.")];
  const { verification } = stated;
  return [
    facts([
      ["Case", shown(stated.case)],
      ["For", shown(stated.recipient)],
      ["Issue", `${stated.issue}. Each issue stands by itself.`],
      ["The issue before", stated.previous && el("span", { class: "digits" }, stated.previous)],
      ["Day it comes from", shown(stated.day)],
      ["Decided by", `${shown(stated.decidedBy)}, ${timeText(stated.decidedAt)}`],
      ["Made, as claimed", timeText(stated.madeAt)],
    ]),
    el("p", {}, verification === null
      ? "The discloser does not state that the whole bundle was verified. That the logs say what the revealed rows "
        + "say then rests on nobody's word: ask for it."
      : `The discloser states that the whole bundle was examined on ${timeText(verification.at)} and found: `
        + `“${shown(verification.verdict)}”. That the logs say what the revealed rows say, and that a redacted copy `
        + "was decoded from the original, rests on that examination. Ask for its report; its SHA-256 is ",
    verification !== null && el("span", { class: "digits" }, verification.report)),
  ];
}

function accounting(pack: PackView): HTMLElement[] {
  const { sealed, exhibits, neutral } = pack;
  if (sealed === null) return [el("p", {}, "The seal statement cannot be read, so nothing is accounted for.")];
  const silent = neutral.file + neutral.record + neutral.finding;
  const counted = (kind: EntryKind, became: string): string =>
    count(exhibits.filter((one) => one.kind === kind && one.became === became).length);
  return [
    table("Number of sealed entries by what became of them",
      ["Became", ...ENTRY_KINDS.map((kind) => capital(KIND_WORDS[kind][1]))],
      [
        ...BECAME.map((became) => [capital(BECAME_WORDS[became]), ...ENTRY_KINDS.map((kind) => counted(kind, became))]),
        ["Withheld, nothing said", ...ENTRY_KINDS.map((kind) => count(neutral[kind]))],
        ["All that was sealed", ...ENTRY_KINDS.map((kind) => count(sealed[kind]))],
      ]),
    el("p", {}, silent === 0 ? "There is no entry of which nothing is said."
      : `Of ${count(silent)} entries the pack says only their kind: “${NEUTRAL_WORDING}” What they hold cannot be `
        + "guessed from the pack. That none is due to you, and that a description is true, is the discloser's word."),
    findingsLine(pack),
  ];
}

function findingsLine({ findings, exhibits }: PackView): HTMLElement {
  const opened = exhibits.filter((one) => one.kind === "finding" && ["released", "redacted"].includes(one.became)).length;
  const all = Object.entries(findings ?? {}).filter(([, number]) => number)
    .map(([outcome, number]) => `${count(number)} ${outcome}`).join(", ");
  return el("p", {}, `Findings sealed on the day: ${all || "none"}. Disclosed here, whole or in part: ${count(opened)}.`);
}

type Entries = Map<number, ShownEntry>;

function entriesOf({ view }: Day): Entries {
  const all = [...view.files, ...view.findings, ...Object.values(view.records).flat()];
  return new Map(all.map((entry) => [entry.entry, entry]));
}

function exhibitSection(day: Day, use: string, exhibits: Exhibit[], entries: Entries): HTMLElement {
  return el("section", {}, el("h3", {}, USE_TITLES[use]),
    exhibits.length ? exhibitList(day, USE_TITLES[use].toLowerCase(), exhibits, entries) : el("p", {}, "Nothing."));
}

function exhibitList(day: Day, label: string, exhibits: Exhibit[], entries: Entries): HTMLElement {
  const any = { title: "any", keeps: () => true };
  return pagedList({
    label,
    items: exhibits,
    noun: ["exhibit", "exhibits"],
    perPage: 25,
    text: (one) => [
      one.exhibit, one.description, one.reason, one.became,
      ...Object.values(entries.get(one.entry)?.values ?? {}).map(plain),
    ].join(" ").toLowerCase(),
    choices: [
      { label: "Became", options: [any, ...BECAME.map((became) => ({
        title: BECAME_WORDS[became], keeps: (one: Exhibit) => one.became === became,
      }))] },
      { label: "Kind", options: [any, ...ENTRY_KINDS.map((kind) => ({
        title: KIND_WORDS[kind][1], keeps: (one: Exhibit) => one.kind === kind,
      }))] },
    ],
    render: (page) => el("ul", { class: "exhibits" }, ...page.map((one) => exhibitItem(day, one, entries))),
  });
}

function exhibitItem(day: Day, one: Exhibit, entries: Entries): HTMLElement {
  const entry = entries.get(one.entry) ?? null;
  const redaction = day.pack!.redactions.find(({ entry: number }) => number === one.entry) ?? null;
  return el("li", {},
    el("details", {},
      el("summary", {},
        el("span", { class: "exhibit-number" }, `Exhibit ${one.exhibit}`),
        el("span", { class: `became ${one.became}` }, capital(BECAME_WORDS[one.became])),
        el("span", { class: "exhibit-title" }, shown(one.description ?? ""))),
      el("div", { class: "inside" },
        !one.proved && notAsSealed("exhibit"),
        facts([
          ["Reason", shown(one.reason)],
          ["Kind", KIND_WORDS[one.kind][0]],
          ["Sealed as", `entry ${one.entry}`],
          ["Closed fields", one.closed.map((name) => shown(fieldName(name))).join(", ")],
        ]),
        entry === null ? null : openedPart(day, one, entry, redaction))));
}

/** Whatever is opened: the file itself, a redacted copy, a finding, or the values of a record. */
function openedPart(day: Day, one: Exhibit, entry: ShownEntry, redaction: RedactionRecord | null): HTMLElement {
  if (one.kind === "finding") return findingBlocks([entry]);
  const parts: (HTMLElement | string)[] = [];
  if (redaction !== null) {
    const name = `data/redacted/exhibit-${one.exhibit}.png`;
    parts.push(picture(day, name, `Redacted copy, exhibit ${one.exhibit}`, redaction),
      redactionNote(day, name, redaction), saveButton(day, name));
  }
  const path = textOf(entry.values, "path");
  if (one.kind === "file" && path !== null && one.became === "released") {
    if (textOf(entry.values, "item_kind") === "still") parts.push(picture(day, `data/${path}`, `Exhibit ${one.exhibit}`));
    parts.push(saveButton(day, `data/${path}`));
  }
  return el("div", {}, ...parts, recordFacts(entry.values), rawFacts(entry));
}

/** The cells as they were exported. */
function rawFacts({ values }: ShownEntry): HTMLElement | null {
  const raw = Object.keys(values).filter((name) => name.startsWith("raw:"));
  if (!raw.length) return null;
  return el("div", {}, el("h4", {}, "Cells as exported"),
    facts(raw.map((name) => [shown(name.slice(4)), shown(plain(own(values, name))) || "(empty)"])));
}

const fieldName = (name: string): string =>
  name.startsWith("raw:") ? `${name.slice(4)} (cell as exported)` : words(name);

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
