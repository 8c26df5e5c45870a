// Readable tables of what a pack opens, byte for byte as the discloser had to make them: one CSV
// (RFC 4180) and one HTML table for each kind of record, and one of each for findings.

import { DERIVED } from "../../layout.ts";
import { canonicalText, type JsonObject } from "../../proof/canonical.ts";
import { compareText, utf8 } from "../../text.ts";

const CLOSED = "(closed)";
const RAW = "raw:";
const NOTE = "Derived from the fields opened in this pack. It is no original: what is proved is each opened field, in "
  + "disclosure/openings.jsonl, by its row's entry number.";
const STYLE = "body{font-family:sans-serif}table{border-collapse:collapse}th,td{border:1px solid;padding:.2em "
  + ".4em;text-align:left;vertical-align:top}";
const IDENTIFIER = /^[\p{XID_Start}_]\p{XID_Continue}*$/u;
// What a spreadsheet would run as a formula, and what Python takes for a number all the same.
const FORMULA = /^[=+\-@\t\r]/;
const SPACES = /^[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+|[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/g;
const DIGITS = "\\p{Nd}+(?:_\\p{Nd}+)*";
const NUMBER = new RegExp(
  `^[+-]?(?:(?:${DIGITS}\\.?(?:${DIGITS})?|\\.${DIGITS})(?:e[+-]?${DIGITS})?|inf(?:inity)?|nan)$`, "iu",
);

/** A revealed record or finding. */
export interface Row {
  entry: number;
  exhibit: number;
  opened: JsonObject;
  closed: string[];
}

/** Names (under the pack's folder) and bytes of all tables, for rows in ledger order. */
export function derivedTables(rows: Row[]): Map<string, Uint8Array> {
  const tables = new Map<string, Row[]>();
  for (const row of rows) {
    const name = tableName(row.opened);
    const table = tables.get(name);
    if (table === undefined) tables.set(name, [row]);
    else table.push(row);
  }
  const found = new Map<string, Uint8Array>();
  for (const name of [...tables.keys()].sort(compareText)) {
    const table = tables.get(name)!;
    const columns = columnsOf(table);
    const cells = table.map((row) => columns.map((column) => cell(row, column)));
    found.set(`${DERIVED}${name}.csv`, utf8(csv([columns, ...cells])));
    found.set(`${DERIVED}${name}.html`, utf8(html(name, columns, cells)));
  }
  return found;
}

function tableName({ record_kind: kind }: JsonObject): string {
  return typeof kind === "string" && IDENTIFIER.test(kind) ? kind : "finding";
}

/** Entry and exhibit, then normalised values, then raw cells, each in the order of names. */
function columnsOf(rows: Row[]): string[] {
  const names = new Set(rows.flatMap(({ opened, closed }) => [...Object.keys(opened), ...closed]));
  names.delete("record_kind");
  const sorted = [...names].sort(compareText);
  return [
    "entry", "exhibit",
    ...sorted.filter((name) => !name.startsWith(RAW)), ...sorted.filter((name) => name.startsWith(RAW)),
  ];
}

function cell({ entry, exhibit, opened, closed }: Row, column: string): string {
  if (column === "entry") return String(entry);
  if (column === "exhibit") return String(exhibit);
  if (closed.includes(column)) return CLOSED;
  if (!Object.hasOwn(opened, column)) return "";
  const value = opened[column];
  if (typeof value === "string") return value;
  return value === null ? "" : canonicalText(value);
}

const csv = (rows: string[][]): string =>
  rows.map((row) => row.map((one) => quoted(harmless(one))).join(",") + "\r\n").join("");

const quoted = (text: string): string =>
  /[",\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;

/** A text that a spreadsheet could run gets an apostrophe before it; numbers stay numbers. */
function harmless(text: string): string {
  if (!FORMULA.test(text)) return text;
  return NUMBER.test(text.replace(SPACES, "")) ? text : `'${text}`;
}

const ESCAPES: Record<string, string> = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#x27;" };
const escape = (text: string): string => text.replace(/[&<>"']/g, (mark) => ESCAPES[mark]);

function html(name: string, columns: string[], cells: string[][]): string {
  const title = escape(name.replace(/_/g, " "));
  const head = columns.map((column) => `<th scope="col">${escape(column)}</th>`).join("");
  const body = cells
    .map((row) => `<tr>${row.map((one) => `<td>${escape(one)}</td>`).join("")}</tr>`)
    .join("\n");
  return '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
    + `<title>${title}: derived</title><style>${STYLE}</style></head>\n<body>`
    + `<h1>${title}</h1>\n<p>${escape(NOTE)}</p>\n`
    + `<table><thead><tr>${head}</tr></thead>\n<tbody>\n${body}\n</tbody></table>\n`
    + "</body></html>\n";
}
