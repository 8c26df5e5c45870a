// Every file in the bundle, with its digest as the ledger has it.

import { own } from "../proof/canonical.ts";
import { saveButton } from "./captures_view.ts";
import { type Day, textOf } from "./day.ts";
import { el, shown } from "./dom.ts";
import { notAsSealed } from "./findings.ts";
import { plain, size, words } from "./format.ts";
import { pagedList } from "./paged_list.ts";
import { table } from "./table.ts";

interface Row {
  name: string;
  bytes: number;
  kind: string;
  origin: string;
  sha256: string;
  originalName: string;
  holds: boolean;
  faulty: boolean;
}

export function filesView(day: Day): HTMLElement {
  const rows = day.members.map((member): Row => {
    const path = member.name.startsWith("data/") ? member.name.slice(5) : null;
    const entry = path === null ? undefined : day.files.get(path);
    const values = entry?.values ?? {};
    return {
      name: member.name,
      bytes: member.size,
      kind: words(textOf(values, "item_kind") ?? (path === null ? "part of the seal" : "no entry")),
      origin: textOf(values, "origin") ?? "",
      sha256: plain(own(values, "sha256")),
      originalName: plain(own(values, "original_name")),
      holds: entry?.holds ?? true,
      faulty: day.isFaulty(member.name),
    };
  });
  const kinds = [...new Set(rows.map(({ kind }) => kind))].sort();
  return pagedList({
    label: "files",
    items: rows,
    noun: ["file", "files"],
    perPage: 100,
    text: (row) => Object.values(row).join(" ").toLowerCase(),
    choices: [
      { label: "State", options: [
        { title: "any", keeps: () => true },
        { title: "not as sealed", keeps: ({ holds, faulty }: Row) => !holds || faulty },
      ] },
      { label: "Kind", options: [
        { title: "any", keeps: () => true },
        ...kinds.map((kind) => ({ title: kind, keeps: (row: Row) => row.kind === kind })),
      ] },
    ],
    render: (page) => table("Files", ["Name", "Kind", "From", "Size", "SHA-256 as sealed", "Copy"],
      page.map((row) => [
        nameCell(row), row.kind, row.origin, size(row.bytes),
        el("span", { class: "digits" }, row.sha256), saveButton(day, row.name),
      ])),
  });
}

function nameCell({ name, originalName, holds, faulty }: Row): HTMLElement {
  return el("span", { class: "path" }, shown(name),
    originalName !== "" && el("small", {}, ` named ${shown(originalName)} in the export`),
    !holds && notAsSealed(),
    faulty && notAsSealed("file"));
}
