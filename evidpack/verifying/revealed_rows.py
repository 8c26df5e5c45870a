"""Readable tables of what a pack opens: the same opened fields always give the same bytes.

They are marked as derived: what is proved is the opened fields, and these say the same.  One CSV
(RFC 4180) and one HTML table for each kind of record, and one of each for findings.
"""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.container import layout
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.entries import RAW_PREFIX

CLOSED: Final = "(closed)"
DERIVED_NOTE: Final = (
    "Derived from the fields opened in this pack. It is no original: what is proved is each opened "
    "field, in disclosure/openings.jsonl, by its row's entry number."
)
# A spreadsheet would run a text that begins like this as a formula.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")
_STYLE: Final = (
    "body{font-family:sans-serif}table{border-collapse:collapse}"
    "th,td{border:1px solid;padding:.2em .4em;text-align:left;vertical-align:top}"
)
_FIRST: Final = ("entry", "exhibit")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A revealed record or finding: `opened` values by name, names of `closed` fields."""

    entry: int
    exhibit: int
    opened: Mapping[str, JsonValue]
    closed: Sequence[str]


def rendered_rows(rows: Iterable[Row]) -> dict[str, bytes]:
    """Names (under the pack's folder) and bytes of all renderings, for rows in ledger order."""
    tables: dict[str, list[Row]] = {}
    for row in rows:
        tables.setdefault(_table_name(row.opened), []).append(row)
    found: dict[str, bytes] = {}
    for name in sorted(tables):
        columns = _columns(tables[name])
        cells = [[_cell(row, column) for column in columns] for row in tables[name]]
        found[f"{layout.DERIVED}{name}.csv"] = _csv(columns, cells)
        found[f"{layout.DERIVED}{name}.html"] = _html(name, columns, cells)
    return found


def _table_name(opened: Mapping[str, JsonValue]) -> str:
    """The kind of record; a word of our own table, never one from the log."""
    kind = opened.get("record_kind")
    return kind if isinstance(kind, str) and kind.isidentifier() else "finding"


def _columns(rows: Sequence[Row]) -> list[str]:
    """Entry and exhibit, then normalised values, then raw cells, each in the order of names."""
    names = {name for row in rows for name in (*row.opened, *row.closed)} - {"record_kind"}
    raw = sorted(name for name in names if name.startswith(RAW_PREFIX))
    return [*_FIRST, *sorted(names - set(raw)), *raw]


def _cell(row: Row, column: str) -> str:
    if column == "entry":
        return str(row.entry)
    if column == "exhibit":
        return str(row.exhibit)
    if column in row.closed:
        return CLOSED
    if column not in row.opened:
        return ""
    value = row.opened[column]
    if isinstance(value, str):
        return value
    return "" if value is None else canonical_bytes(value).decode()


def _csv(columns: Sequence[str], cells: Sequence[Sequence[str]]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([_harmless(column) for column in columns])
    for row in cells:
        writer.writerow([_harmless(cell) for cell in row])
    return text.getvalue().encode()


def _harmless(cell: str) -> str:
    """A text that a spreadsheet could run gets an apostrophe before it; numbers stay numbers."""
    if not cell.startswith(_FORMULA_STARTS):
        return cell
    try:
        float(cell)
    except ValueError:
        return "'" + cell
    return cell


def _html(name: str, columns: Sequence[str], cells: Sequence[Sequence[str]]) -> bytes:
    title = html.escape(name.replace("_", " "))
    head = "".join(f'<th scope="col">{html.escape(column)}</th>' for column in columns)
    body = "\n".join(
        "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>" for row in cells
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{title}: derived</title><style>{_STYLE}</style></head>\n<body>"
        f"<h1>{title}</h1>\n<p>{html.escape(DERIVED_NOTE)}</p>\n"
        f"<table><thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody></table>\n"
        "</body></html>\n"
    ).encode()
