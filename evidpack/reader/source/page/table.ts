// A table that stays readable on a narrow screen, where each row becomes a block with its headings.

import { el } from "./dom.ts";

export type Cell = string | Node;

/** Rows under headings; the first cell of a row names it. */
export function table(caption: string, headings: string[], rows: Cell[][]): HTMLElement {
  return el("table", {},
    el("caption", {}, caption),
    el("thead", {}, el("tr", {}, ...headings.map((heading) => el("th", { scope: "col" }, heading)))),
    el("tbody", {}, ...rows.map((cells) => el("tr", {}, ...cells.map((cell, at) =>
      at === 0
        ? el("th", { scope: "row", "data-heading": headings[at] }, cell)
        : el("td", { "data-heading": headings[at] }, cell))))),
  );
}

/** Names and values, without those that are empty. */
export function facts(pairs: [string, Cell | null][]): HTMLElement {
  const list = el("dl", { class: "facts" });
  for (const [name, value] of pairs) {
    if (value === null || value === "") continue;
    list.append(el("div", {}, el("dt", {}, name), el("dd", {}, value)));
  }
  return list;
}
