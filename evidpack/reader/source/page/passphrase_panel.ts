// Asking for the passphrase of an encrypted pack. A typing error is told before anything is tried.

import { PASSPHRASE_CHARACTERS, readPassphrase, typedCharacters } from "../passphrase.ts";
import { el, freshId, shown } from "./dom.ts";

export interface PassphrasePanel {
  element: HTMLElement;
  /** Ask, after a passphrase that did not open the pack with the reason. */
  ask(fileName: string, failure: string | null): void;
  end(): void;
}

export function passphrasePanel(onPassphrase: (passphrase: string) => void): PassphrasePanel {
  const message = el("p", { class: "message", role: "alert" });
  const counter = el("p", { class: "quiet" });
  const title = el("h2", { id: freshId() });
  const field = el("input", {
    type: "text", id: freshId(), class: "passphrase", autocomplete: "off", autocapitalize: "characters",
    spellcheck: "false", size: 40, input: () => count(),
  });
  const count = (): void => {
    counter.textContent = `${typedCharacters(field.value)} of ${PASSPHRASE_CHARACTERS} characters`;
  };
  const open = (event: SubmitEvent): void => {
    event.preventDefault();
    const read = readPassphrase(field.value);
    message.textContent = "";
    if (typeof read === "string") return onPassphrase(read);
    message.textContent = "The passphrase is not typed as it stands on the slip: expected "
      + `${read.expected}, found ${read.observed}. Compare it with the slip group by group. It has no I, O, 0 or 1.`;
    field.focus();
  };
  const element = el("section", { class: "locked", hidden: true, "aria-labelledby": title.id }, title,
    el("p", {}, "Its passphrase is on a slip that reached you another way than the file: seven groups of four "
      + "characters. Capitals or small letters, with or without the hyphens, are all one."),
    el("form", { submit: open },
      el("label", { for: field.id }, "Passphrase on the slip"),
      field, counter, message,
      el("button", { type: "submit", class: "strong" }, "Open the pack")));
  return {
    element,
    ask(fileName, failure) {
      title.textContent = `${shown(fileName)} is an encrypted pack`;
      message.textContent = failure === null ? "" : `${failure.charAt(0).toUpperCase()}${failure.slice(1)}. `
        + "It is typed as a passphrase is: check that the slip belongs to this pack, by its name and its SHA-256.";
      element.hidden = false;
      count();
      field.focus();
    },
    end() {
      field.value = "";
      message.textContent = "";
      element.hidden = true;
    },
  };
}
