// How far the examination has come.

import { STEP_TITLES } from "../verifying/report.ts";
import { el } from "./dom.ts";
import { size } from "./format.ts";

export interface ProgressView {
  element: HTMLElement;
  begin(name: string, total: number): void;
  step(number: number): void;
  bytes(done: number): void;
  end(): void;
}

export function progressView(onCancel: () => void): ProgressView {
  const title = el("p", { class: "progress-title", role: "status" });
  const amount = el("p", { class: "quiet" });
  const bar = el("progress", { max: 1, value: 0, "aria-label": "Bytes read" });
  const cancel = el("button", { type: "button", click: onCancel }, "Stop");
  const element = el("section", { class: "progress", hidden: true, "aria-label": "Progress" },
    title, bar, amount, cancel);
  let total = 1;
  return {
    element,
    begin(name, bytes) {
      total = Math.max(bytes, 1);
      title.textContent = `Reading ${name}`;
      amount.textContent = "";
      bar.value = 0;
      element.hidden = false;
    },
    step(number) {
      title.textContent = `Step ${number}: ${STEP_TITLES[number]}`;
      if (number > 2) bar.value = 1;
    },
    bytes(done) {
      bar.value = done / total;
      amount.textContent = `${size(done)} of ${size(total)} read`;
    },
    end() {
      element.hidden = true;
    },
  };
}
