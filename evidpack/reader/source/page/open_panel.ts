// Where a file is opened and certificates are given.

import type { Choices } from "../engine/messages.ts";
import { el, freshId, shown } from "./dom.ts";
import { type GivenField, givenField } from "./given_field.ts";
import { anchorKind, revocationKind, tokenKind } from "./given_kinds.ts";

export interface OpenPanel {
  element: HTMLElement;
  choices(): Choices;
  /** Fold the panel away, or leave it open where certificates are still wanted. */
  settle(fileName: string, wanting: boolean): void;
}

interface Wishes {
  onFile(file: File): void;
  onChoices(): void;
}

export function openPanel({ onFile, onChoices }: Wishes): OpenPanel {
  const signers = givenField(anchorKind("Authority for signers",
    "The certificate of the authority that vouches for whoever sealed the file, or made the pack."), onChoices);
  const stampers = givenField(anchorKind("Authority for time stamps",
    "The root certificate of the time-stamp authority, where the file carries a time stamp."), onChoices);
  const lists = givenField(revocationKind, onChoices);
  const token = givenField(tokenKind, onChoices);
  const claimed = el("input", { type: "checkbox", id: freshId(), change: onChoices });
  const summary = el("summary", { hidden: true });
  const element = el(
    "details", { class: "opening", open: true }, summary,
    el("section", { class: "opening-grid", "aria-label": "Open" }, el("div", {},
      el("h2", {}, "1. The file"),
      dropZone(onFile),
      el("p", { class: "quiet" },
        "A bundle or a pack is one file that ends in .zip. It is read here, piece by piece, and goes nowhere. "
        + "An encrypted pack is opened here too; the page asks for its passphrase.")),
    el("div", {},
      el("h2", {}, "2. Whom you trust"),
      el("p", {}, "Without these, the page can tell whether the file is intact, but not who sealed it "
        + "or when. Get them by another way than the file: from the unit, or from the authority. Never "
        + "from inside the file."),
      el("div", { class: "pair" }, signers.element, stampers.element),
      el("details", { class: "more" },
        el("summary", {}, "More that you may bring: revocation lists, a time stamp kept apart"),
        el("div", { class: "pair" }, lists.element, token.element)),
      el("p", { class: "option" }, claimed,
        el("label", { for: claimed.id }, "Accept the time as claimed by whoever signed, where no time is "
          + "established. The result will say so.")))),
  );
  return {
    element,
    choices: () => ({
      anchors: signers.held().map(({ raw }) => raw),
      tsaAnchors: stampers.held().map(({ raw }) => raw),
      revocationLists: lists.held().map(({ raw }) => raw),
      timeStamp: token.held()[0] ?? null,
      acceptClaimedTime: claimed.checked,
      verifiedAt: new Date().toISOString(),
    }),
    settle(fileName, wanting) {
      const given = <T>(field: GivenField<T>): string => String(field.held().length || "none");
      summary.textContent = `Another file, other certificates (now: ${shown(fileName)}; for signers `
        + `${given(signers)}, for time stamps ${given(stampers)})`;
      summary.hidden = false;
      element.open = wanting;
    },
  };
}

function dropZone(onFile: (file: File) => void): HTMLElement {
  const picker = el("input", {
    type: "file", id: freshId(), class: "picker", accept: ".zip",
    change: () => {
      const [file] = Array.from(picker.files ?? []);
      if (file) onFile(file);
      picker.value = "";
    },
  });
  const zone = el(
    "div", { class: "drop" },
    picker,
    el("p", {}, "Drop a bundle or a pack here"),
    el("p", {}, el("label", { for: picker.id, class: "button strong" }, "Choose a file")),
  );
  // The whole window takes a drop, so that a near miss does not leave the page for the file.
  window.addEventListener("dragover", (event) => {
    event.preventDefault();
    zone.classList.add("over");
  });
  window.addEventListener("dragleave", () => zone.classList.remove("over"));
  window.addEventListener("drop", (event) => {
    event.preventDefault();
    zone.classList.remove("over");
    const [file] = Array.from(event.dataTransfer?.files ?? []);
    if (file) onFile(file);
  });
  return zone;
}
