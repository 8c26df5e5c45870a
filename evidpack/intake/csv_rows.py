"""Many lines of a CSV log cut at once, where each line is a row with a cell in every column."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass

from evidpack.intake.log_spec import LogSpec
from evidpack.intake.text_lines import fault_of
from evidpack.limits import MAX_CELL_CHARACTERS, MAX_ROW_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Cells by column, of how many lines, and which of them the rows are (None: all of them)."""

    columns: Sequence[Sequence[str]]
    line_count: int
    places: Sequence[int] | None = None


def cut_rows(text: str, spec: LogSpec, width: int) -> Rows | None:
    """The rows of some whole lines; None where they have to be read one by one: where a row goes
    over several lines, has more or fewer than `width` cells or can't be kept as text.
    """
    if len(text) > MAX_ROW_BYTES or fault_of(text) is not None:
        return None
    if text.count("\r") != text.count("\r\n"):
        return None
    if width > 1 and len(text) <= MAX_CELL_CHARACTERS and spec.quote not in text:
        rows = _without_quotes(text.replace("\r\n", "\n"), spec.delimiter, width)
        if rows is not None:
            return rows
    return _with_quotes(text, spec, width)


def _without_quotes(text: str, delimiter: str, width: int) -> Rows | None:
    """Where nothing is quoted, each delimiter ends a cell and each line end a row.

    A line end set between two delimiters stands for itself, so that the cells of all lines are one
    list in which each row ends after `width` of them.
    """
    if not text.endswith("\n"):
        text += "\n"
    count = text.count("\n")
    cells = text.replace("\n", f"{delimiter}\n{delimiter}").split(delimiter)
    if cells[width :: width + 1].count("\n") != count or len(cells) != count * (width + 1) + 1:
        return None
    cells.pop()
    columns = [cells[place :: width + 1] for place in range(width)]
    return Rows(columns=columns, line_count=count)


def _with_quotes(text: str, spec: LogSpec, width: int) -> Rows | None:
    lines = text.split("\n")
    if not lines[-1]:
        lines.pop()
    try:
        rows = list(csv.reader(lines, delimiter=spec.delimiter, quotechar=spec.quote, strict=True))
    except csv.Error:
        return None
    if len(rows) != len(lines):
        return None
    places = None
    if [] in rows:  # an empty line is no row
        places = [place for place, row in enumerate(rows) if row]
        rows = [row for row in rows if row]
    if set(map(len, rows)) != {width}:
        return None
    columns = list(zip(*rows, strict=True))
    return Rows(columns=columns, line_count=len(lines), places=places)
