// A field for something that the person at the screen brings: chosen as a file or pasted, listed, and
// taken away again. What it holds is never taken from the file under examination.

import { Refusal } from "../refusal.ts";
import { el, freshId, shown } from "./dom.ts";

export interface GivenField<T> {
  element: HTMLElement;
  held(): T[];
}

export interface Kind<T> {
  title: string;
  about: string;
  /** What one is called, as in “a certificate file”. */
  noun: string;
  accept: string;
  /** The first line of a pasted one, where it may be pasted. */
  pasted: string | null;
  /** At most one, or many. */
  many: boolean;
  read(bytes: Uint8Array, name: string): T[];
  same(one: T, other: T): boolean;
  /** A name, and what is shown of it. */
  show(one: T): Promise<{ name: string; about: HTMLElement[] }>;
}

/** `onChange` is called after each one added or taken away. */
export function givenField<T>(kind: Kind<T>, onChange: () => void): GivenField<T> {
  const held: T[] = [];
  const list = el("ul", { class: "anchors" });
  const message = el("p", { class: "message", role: "status" });

  const add = async (name: string, bytes: Uint8Array): Promise<void> => {
    message.textContent = "";
    try {
      for (const one of kind.read(bytes, name)) {
        if (held.some((other) => kind.same(one, other))) continue;
        if (!kind.many) {
          held.length = 0;
          list.replaceChildren();
        }
        held.push(one);
        list.append(await row(one));
      }
      onChange();
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      message.textContent = sentenceOf(error, name);
    }
  };

  const row = async (one: T): Promise<HTMLElement> => {
    const { name, about } = await kind.show(one);
    const item = el("li", {},
      el("p", { class: "name" }, name), ...about,
      el("button", { type: "button", "aria-label": `Remove ${name}`, click: () => {
        held.splice(held.indexOf(one), 1);
        item.remove();
        onChange();
      } }, "Remove"));
    return item;
  };

  const element = el("fieldset", { class: "trust" },
    el("legend", {}, kind.title),
    el("p", { class: "quiet" }, kind.about),
    list, message, chooser(kind, add), kind.pasted !== null && paster(kind, add, message));
  return { element, held: () => [...held] };
}

function sentenceOf(error: Refusal, name: string): string {
  const hint = error.hint === null ? "" : ` What to do: ${error.hint}.`;
  const detail = error.expected === null ? "" : ` (expected ${error.expected}; found ${error.observed})`;
  return shown(`${name}: ${error.message}${detail}.${hint}`);
}

type Add = (name: string, bytes: Uint8Array) => Promise<void>;

function chooser<T>({ title, noun, accept, many }: Kind<T>, add: Add): HTMLElement {
  const picker = el("input", {
    type: "file", id: freshId(), class: "picker", multiple: many, accept,
    change: async () => {
      for (const file of Array.from(picker.files ?? [])) {
        await add(file.name, new Uint8Array(await file.arrayBuffer()));
      }
      picker.value = "";
    },
  });
  return el("div", { class: "choose" }, picker,
    el("label", { for: picker.id, class: "button" }, `Choose a ${noun} file`,
      el("span", { class: "unseen" }, ` for: ${title}`)));
}

function paster<T>({ title, noun, pasted }: Kind<T>, add: Add, message: HTMLElement): HTMLElement {
  const text = el("textarea", { id: freshId(), rows: 4, spellcheck: "false", placeholder: pasted });
  return el("details", {},
    el("summary", {}, "Paste it instead"),
    el("label", { for: text.id }, `${noun.charAt(0).toUpperCase()}${noun.slice(1)} text (PEM) for: ${title}`),
    text,
    el("button", { type: "button", click: async () => {
      await add("pasted text", new TextEncoder().encode(text.value));
      if (!message.textContent) text.value = "";
    } }, `Use this ${noun}`));
}
