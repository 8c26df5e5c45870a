// Captures: still, speed, range, time with offset, findings. One opens into all that is sealed of it.

import type { JsonObject } from "../proof/canonical.ts";
import { own } from "../proof/canonical.ts";
import { type Day, type ShownCapture, type ShownItem, textOf } from "./day.ts";
import { el, freshId, save, shown } from "./dom.ts";
import { findingBlocks, notAsSealed } from "./findings.ts";
import { clockOf, counted, measured, plain, timeText, words } from "./format.ts";
import { sign } from "./marks.ts";
import { pagedList } from "./paged_list.ts";
import { redactionNote } from "./redactions.ts";
import { picture, typeOf } from "./pictures.ts";
import { facts } from "./table.ts";

const adverseOf = ({ findings }: ShownCapture) => findings.filter(({ values }) => own(values, "adverse") === true);

export function capturesView(day: Day): HTMLElement {
  const { captures } = day;
  if (!captures.length) return el("p", {}, "There is no capture in this file.");
  const sessions = [...new Set(captures.map(({ session }) => session ?? "none"))];
  return pagedList({
    label: "captures",
    items: captures,
    noun: ["capture", "captures"],
    perPage: 24,
    text: (one) => [
      one.number, ...Object.values(one.capture.values).map(plain),
      ...Object.values(one.reading?.values ?? {}).map(plain),
    ].join(" ").toLowerCase(),
    choices: [
      { label: "Findings", options: [
        { title: "any", keeps: () => true },
        { title: "with an adverse finding", keeps: (one) => adverseOf(one).length > 0 },
        { title: "without an adverse finding", keeps: (one) => !adverseOf(one).length },
      ] },
      { label: "Session", options: [
        { title: "any", keeps: () => true },
        ...sessions.map((session) => ({
          title: session, keeps: (one: ShownCapture) => (one.session ?? "none") === session,
        })),
      ] },
      { label: "Stills", options: [
        { title: "any number", keeps: () => true },
        { title: "without a still", keeps: ({ stills }) => !stills.length },
        { title: "with several", keeps: ({ stills }) => stills.length > 1 },
        { title: "with a clip", keeps: ({ clips }) => clips.length > 0 },
      ] },
    ],
    render: (page) => el("ul", { class: "captures" }, ...page.map((one) => card(day, one))),
  });
}

function card(day: Day, one: ShownCapture): HTMLElement {
  const values = one.reading?.values ?? {};
  const clock = clockOf(own(values, "time"));
  const adverse = adverseOf(one).length;
  const speed = measured(values, "speed");
  const limit = measured(values, "limit");
  return el("li", {},
    el("button", { type: "button", class: "card", click: () => openCapture(day, one) },
      one.stills.length ? picture(day, one.stills[0].name, "", one.stills[0].redaction)
        : el("div", { class: "picture" }, el("p", {}, day.pack === null ? "No still" : "No still in this pack")),
      el("span", { class: "card-title" }, `Capture ${one.number}`),
      el("span", { class: "speed" }, speed ?? "No reading", limit !== null && el("small", {}, ` limit ${limit}`)),
      el("span", {}, [measured(values, "range"), clock && `${clock.time} ${clock.offset}`].filter(Boolean).join(" · ")),
      el("span", { class: "quiet" }, [
        clock?.date, one.session && `session ${shown(one.session)}`,
        one.stills.length > 1 && counted(one.stills.length, "still"), one.clips.length > 0 && counted(one.clips.length, "clip"),
        own(values, "discarded") === true && "discarded",
      ].filter(Boolean).join(" · ")),
      el("span", { class: adverse ? "flag" : "quiet" },
        adverse > 0 && sign("bad"),
        adverse ? counted(adverse, "adverse finding") : "no adverse finding"),
      !allHold(one) && notAsSealed(),
      faultyFiles(day, one) && notAsSealed("capture's file")));
}

const faultyFiles = (day: Day, one: ShownCapture): boolean =>
  [...one.stills, ...one.clips].some(({ name }) => day.isFaulty(name));

const allHold = (one: ShownCapture): boolean => one.capture.holds && (one.reading?.holds ?? true);

function openCapture(day: Day, one: ShownCapture): void {
  const heading = freshId();
  const dialog = el("dialog", { class: "capture", "aria-labelledby": heading, close: () => {
    for (const video of dialog.querySelectorAll("video")) URL.revokeObjectURL(video.src);
    dialog.remove();
  } },
    el("div", { class: "dialog-head" },
      el("h2", { id: heading }, `Capture ${one.number}`),
      el("button", { type: "button", click: () => dialog.close() }, "Close"),
      day.warning !== null && el("p", { class: "warning" }, sign("bad"), `Does not verify. ${day.warning}`)),
    !allHold(one) && notAsSealed(),
    el("div", { class: "capture-grid" },
      el("div", {},
        ...one.stills.map((still) => stillBlock(day, one, still)),
        ...one.clips.map((clip) => clipBlock(day, clip))),
      readingFacts(one)),
    el("h3", {}, "Findings about this capture"),
    one.findings.length ? findingBlocks(one.findings)
      : el("p", {}, "None names this capture. Findings about its session, meter or clock are under “Findings”."),
    ...one.reviews.map((review) => el("section", {}, el("h3", {}, "Review"), recordFacts(review.values))));
  document.body.append(dialog);
  dialog.showModal();
}

function readingFacts(one: ShownCapture): HTMLElement {
  const values = one.reading?.values ?? {};
  const known = ["speed", "limit", "range"];
  const shownNames = new Set(["time", "opinion_time", "capture", "session", "record_kind", "place", "source_entry", "source_line"]);
  return el("div", {},
    facts([
      ["Speed as shown", measured(values, "speed")],
      ["Limit that applied", measured(values, "limit")],
      ["Range", measured(values, "range")],
      ["Time of the reading", timeText(own(values, "time"))],
      ["Opinion formed", timeText(own(values, "opinion_time"))],
      ["Name in the export", shown(textOf(one.capture.values, "capture") ?? "")],
      ["Session", one.session && shown(one.session)],
      ["Joined by", shown(plain(own(one.capture.values, "how")))],
      ["Ledger entries", [one.capture.entry, one.reading?.entry].filter((entry) => entry !== undefined).join(", ")],
    ]),
    recordFacts(Object.fromEntries(Object.entries(values).filter(([name]) =>
      !shownNames.has(name) && !known.some((stem) => name.startsWith(`${stem}_`))))));
}

/** All values of a record but those that say where it stands. */
export function recordFacts(values: JsonObject): HTMLElement {
  const hidden = ["record_kind", "place", "source_entry", "source_line"];
  return facts(Object.entries(values)
    .filter(([name]) => !hidden.includes(name) && !/^(?:raw:|pulse_)/.test(name))
    .map(([name, value]) => [capital(words(name)), shown(plain(value))]));
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

function stillBlock(day: Day, one: ShownCapture, still: ShownItem): HTMLElement {
  const { title, name, record, file, redaction } = still;
  const [width, height] = ["width_px", "height_px"].map((edge) => plain(record === null ? null : own(record.values, edge)));
  return el("figure", {},
    picture(day, name, `Still ${shown(title)} of capture ${one.number}`, redaction),
    el("figcaption", {},
      day.isFaulty(name) && notAsSealed("file"),
      redaction !== null && redactionNote(day, name, redaction),
      facts([
        ["Still", shown(title)],
        ["Time in the picture file", record === null ? "" : timeText(own(record.values, "time"))],
        ["Size", width && height && `${width} × ${height} pixels`],
        ["SHA-256 as sealed", file === null ? "" : el("span", { class: "digits" }, shown(plain(own(file.values, "sha256"))))],
      ]),
      saveButton(day, name)));
}

function clipBlock(day: Day, { title, name }: ShownItem): HTMLElement {
  const type = typeOf(name);
  const figure = el("figure", {});
  if (type?.startsWith("video/")) {
    const video = el("video", { controls: true, preload: "metadata", "aria-label": `Clip ${shown(title)}` });
    void day.fetch(name).then((blob) => {
      if (blob !== null) video.src = URL.createObjectURL(blob.slice(0, blob.size, type));
    });
    figure.append(video);
  }
  figure.append(el("figcaption", {}, facts([["Clip", shown(title)]]), saveButton(day, name)));
  return figure;
}

/** Saves the file's own bytes. */
export function saveButton(day: Day, name: string): HTMLElement | string {
  if (!day.has(name)) return "not in the file";
  const called = name.slice(name.lastIndexOf("/") + 1);
  return el("button", { type: "button", class: "screen-only", "aria-label": `Save a copy of ${shown(name)}`,
    click: async () => {
      const blob = await day.fetch(name);
      if (blob !== null) save(called, blob);
    } }, "Save a copy");
}
