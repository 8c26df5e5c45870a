// Parts of the result side by side, of which one is shown (WAI-ARIA pattern “tabs”: arrows move,
// Home and End go to the ends).

import { el, freshId } from "./dom.ts";

export interface Part {
  title: string;
  /** Made when it is first shown. */
  make: () => HTMLElement;
}

export function tabs(label: string, parts: Part[]): HTMLElement {
  const buttons: HTMLButtonElement[] = [];
  const panels: HTMLElement[] = [];

  const show = (chosen: number, focus: boolean): void => {
    buttons.forEach((button, number) => {
      const selected = number === chosen;
      button.setAttribute("aria-selected", String(selected));
      button.tabIndex = selected ? 0 : -1;
      panels[number].hidden = !selected;
    });
    if (!panels[chosen].hasChildNodes()) panels[chosen].append(parts[chosen].make());
    if (focus) buttons[chosen].focus();
  };

  const onKey = (event: KeyboardEvent, number: number): void => {
    const last = parts.length - 1;
    const next: Record<string, number> = {
      ArrowRight: number === last ? 0 : number + 1,
      ArrowLeft: number === 0 ? last : number - 1,
      Home: 0,
      End: last,
    };
    if (!(event.key in next)) return;
    event.preventDefault();
    show(next[event.key], true);
  };

  parts.forEach(({ title }, number) => {
    const [id, panel] = [freshId(), freshId()];
    buttons.push(el("button", {
      type: "button", role: "tab", id, "aria-controls": panel,
      click: () => show(number, false),
      keydown: (event: KeyboardEvent) => onKey(event, number),
    }, title));
    panels.push(el("div", { role: "tabpanel", id: panel, "aria-labelledby": id, tabindex: 0 }));
  });
  const holder = el("div", { class: "tabs" },
    el("div", { role: "tablist", "aria-label": label }, ...buttons), ...panels);
  show(0, false);
  return holder;
}
