// A list that is searched and filtered, a page of it at a time: a day may have thousands of items.

import { el, freshId } from "./dom.ts";
import { count } from "./format.ts";

export interface Choice<T> {
  label: string;
  /** Shown in the list of choices; the first one should let everything through. */
  options: { title: string; keeps: (item: T) => boolean }[];
}

export interface PagedOptions<T> {
  label: string;
  items: T[];
  /** What one item is called, in singular and plural. */
  noun: [string, string];
  perPage: number;
  /** The words of an item that a search looks through, in lower case. */
  text: (item: T) => string;
  choices?: Choice<T>[];
  /** Elements of one page, put into one holder. */
  render: (items: T[]) => HTMLElement;
}

export function pagedList<T>(options: PagedOptions<T>): HTMLElement {
  const { items, noun, perPage } = options;
  const texts = items.map(options.text);
  const search = el("input", { type: "search", id: freshId(), input: () => change() });
  const selects = (options.choices ?? []).map((choice) => ({
    choice,
    select: el("select", { id: freshId(), change: () => change() },
      ...choice.options.map(({ title }, number) => el("option", { value: number }, title))),
  }));
  const status = el("p", { role: "status", class: "quiet" });
  const holder = el("div", { class: "page" });
  const position = el("span", { class: "position" });
  const back = el("button", { type: "button", click: () => turn(-1) }, "Previous page");
  const forth = el("button", { type: "button", click: () => turn(1) }, "Next page");
  const turning = el("nav", { class: "turning", "aria-label": `Pages of ${options.label}` }, back, position, forth);
  let kept: T[] = items;
  let page = 0;

  const draw = (): void => {
    const pages = Math.max(1, Math.ceil(kept.length / perPage));
    page = Math.min(Math.max(page, 0), pages - 1);
    holder.replaceChildren(options.render(kept.slice(page * perPage, (page + 1) * perPage)));
    position.textContent = `Page ${page + 1} of ${pages}`;
    back.disabled = page === 0;
    forth.disabled = page === pages - 1;
    turning.hidden = pages === 1;
    const shown = kept.length === items.length
      ? `${count(items.length)} ${items.length === 1 ? noun[0] : noun[1]}`
      : `${count(kept.length)} of ${count(items.length)} ${noun[1]}`;
    status.textContent = shown;
  };
  const turn = (by: number): void => {
    page += by;
    draw();
    // A button that has just been disabled would lose the keyboard's place.
    if (back.disabled && by < 0) forth.focus();
    if (forth.disabled && by > 0) back.focus();
  };
  const change = (): void => {
    const wanted = search.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const filters = selects.map(({ choice, select }) => choice.options[Number(select.value)].keeps);
    kept = items.filter((item, number) =>
      wanted.every((word) => texts[number].includes(word)) && filters.every((keeps) => keeps(item)));
    page = 0;
    draw();
  };
  draw();
  return el("div", { class: "paged" },
    el("div", { class: "sieve", role: "search", "aria-label": `Search ${options.label}` },
      el("div", {}, el("label", { for: search.id }, "Search"), search),
      ...selects.map(({ choice, select }) =>
        el("div", {}, el("label", { for: select.id }, choice.label), select))),
    status, holder, turning);
}
