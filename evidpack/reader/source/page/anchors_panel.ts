// The certificates that the person at the screen trusts: loaded or pasted, never taken from the file.

import { type Certificate, nameOf, sameCertificate } from "../trust/certificates.ts";
import { loadCertificates } from "../trust/pem.ts";
import { Refusal } from "../refusal.ts";
import { describe } from "../verifying/verify.ts";
import { el, freshId, shown } from "./dom.ts";

export interface AnchorsPanel {
  element: HTMLElement;
  certificates(): Certificate[];
}

interface Words {
  title: string;
  about: string;
}

/** A field for one purpose. `onChange` is called after each certificate added or taken away. */
export function anchorsPanel(words: Words, onChange: () => void): AnchorsPanel {
  const held: Certificate[] = [];
  const list = el("ul", { class: "anchors" });
  const message = el("p", { class: "message", role: "status" });

  const add = async (name: string, bytes: Uint8Array): Promise<void> => {
    message.textContent = "";
    try {
      for (const certificate of loadCertificates(bytes, name)) {
        if (held.some((one) => sameCertificate(one, certificate))) continue;
        held.push(certificate);
        list.append(await row(certificate));
      }
      onChange();
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      const hint = error.hint === null ? "" : ` What to do: ${error.hint}.`;
      const detail = error.expected === null ? "" : ` (expected ${error.expected}; found ${error.observed})`;
      message.textContent = shown(`${name}: ${error.message}${detail}.${hint}`);
    }
  };

  const row = async (certificate: Certificate): Promise<HTMLElement> => {
    const told = await describe("anchor", certificate);
    const name = nameOf(certificate);
    const item = el(
      "li", {},
      el("p", { class: "name" }, name),
      el("p", { class: "digits" }, told.fingerprint),
      el("p", { class: "quiet" }, `Valid ${told.validFrom.slice(0, 10)} to ${told.validUntil.slice(0, 10)}. `
        + "Compare these groups with what the authority told you."),
      el("button", { type: "button", "aria-label": `Remove ${name}`, click: () => {
        held.splice(held.indexOf(certificate), 1);
        item.remove();
        onChange();
      } }, "Remove"),
    );
    return item;
  };

  return { element: frame(words, list, message, add), certificates: () => [...held] };
}

type Add = (name: string, bytes: Uint8Array) => Promise<void>;

function frame({ title, about }: Words, list: HTMLElement, message: HTMLElement, add: Add): HTMLElement {
  const picker = el("input", {
    type: "file", id: freshId(), class: "picker", multiple: true, accept: ".pem,.crt,.cer,.der,.txt",
    change: async () => {
      for (const file of Array.from(picker.files ?? [])) {
        await add(file.name, new Uint8Array(await file.arrayBuffer()));
      }
      picker.value = "";
    },
  });
  const text = el("textarea", { id: freshId(), rows: 4, spellcheck: "false",
    placeholder: "-----BEGIN CERTIFICATE-----" });
  return el(
    "fieldset", { class: "trust" },
    el("legend", {}, title),
    el("p", { class: "quiet" }, about),
    list,
    message,
    el("div", { class: "choose" }, picker, el("label", { for: picker.id, class: "button" }, `Choose a certificate file`,
      el("span", { class: "unseen" }, ` for: ${title}`))),
    el("details", {},
      el("summary", {}, "Paste it instead"),
      el("label", { for: text.id }, `Certificate text (PEM) for: ${title}`),
      text,
      el("button", { type: "button", click: async () => {
        await add("pasted text", new TextEncoder().encode(text.value));
        if (!message.textContent) text.value = "";
      } }, "Use this certificate")),
  );
}
