"""CSV logs (RFC 4180 with a declared delimiter), in bounded memory.

A row keeps the number of its first line.  A quote that is never closed costs only its own line:
the lines that it swallowed are then read one by one.  Lines of which each is a whole row with all
its cells are read some thousands at a time; the others row by row.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO, TypeAlias

from evidpack.errors import IntakeError
from evidpack.intake.csv_rows import Rows, cut_rows
from evidpack.intake.line_feed import LineFeed, RowTooLongError
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.text_lines import LogText, fault_of, text_stream
from evidpack.limits import (
    MAX_CELL_CHARACTERS,
    MAX_COLUMNS,
    MAX_LOG_BYTES,
    MAX_ROW_BYTES,
)

# First line, cells, text of the row, fault.
_CutRow: TypeAlias = tuple[int, list[str], str, str | None]


@dataclass(slots=True, kw_only=True)
class RawRow:
    """A row before normalising. `fault` says why its cells could not be told apart."""

    line: int
    place: int
    raw: dict[str, str]
    excerpt: str
    fault: str | None


class RowBlock:
    """Rows that are one line each and have a cell in every column.

    `lines` holds the numbers of their lines, `columns` the cells by column.
    """

    __slots__ = ("_first_line", "_header", "_spec", "_text", "columns", "lines")

    def __init__(
        self, text: str, spec: LogSpec, header: Sequence[str], first_line: int, rows: Rows
    ) -> None:
        self._text = text
        self._spec = spec
        self._header = header
        self._first_line = first_line
        self.columns: Mapping[str, Sequence[str]] = dict(zip(header, rows.columns, strict=True))
        lines = range(first_line, first_line + rows.line_count)
        self.lines: Sequence[int] = lines
        if rows.places is not None:
            self.lines = [lines[place] for place in rows.places]

    def excerpt(self, line: int) -> str:
        """The text of one line."""
        return self._text.split("\n")[line - self._first_line].rstrip("\r\n")

    def cut_again(self) -> Callable[[], Mapping[str, Sequence[str]]]:
        """What gives `columns` once more: it keeps the text alone."""
        text, spec, header = self._text, self._spec, self._header

        def cut() -> Mapping[str, Sequence[str]]:
            rows = cut_rows(text, spec, len(header))
            return {} if rows is None else dict(zip(header, rows.columns, strict=True))

        return cut


def read_rows(stream: BinaryIO, spec: LogSpec, *, path: str, size: int) -> Iterator[RawRow]:
    """The rows of a CSV file. Raises IntakeError for a header that can't be used."""
    for part in read_parts(stream, spec, path=path, size=size):
        if isinstance(part, RawRow):
            yield part
            continue
        for place, line in enumerate(part.lines):
            raw = {name: cells[place] for name, cells in part.columns.items()}
            yield RawRow(line=line, place=0, raw=raw, excerpt=part.excerpt(line), fault=None)


def read_parts(
    stream: BinaryIO, spec: LogSpec, *, path: str, size: int
) -> Iterator[RawRow | RowBlock]:
    """The rows of a CSV file, by the thousand where they allow it.

    Raises IntakeError for a header that can't be used.
    """
    if size > MAX_LOG_BYTES:
        raise IntakeError(
            "the log is too large",
            path=path,
            expected=f"at most {MAX_LOG_BYTES} bytes",
            observed=f"{size} bytes",
        )
    csv.field_size_limit(MAX_CELL_CHARACTERS)
    with text_stream(stream, encoding=spec.encoding, path=path) as text:
        feed = LineFeed(LogText(text))
        for _ in range(spec.skip_lines):
            if next(feed, None) is None:
                break
            feed.next_row()
        yield from _named_rows(feed, spec, path)


def _named_rows(feed: LineFeed, spec: LogSpec, path: str) -> Iterator[RawRow | RowBlock]:
    rows = _rows(feed, spec)
    header: Sequence[str] = spec.columns
    if not header:
        first = next(rows, None)
        if first is None:
            why = "the file has no line with names of columns"
            yield RawRow(line=1, place=0, raw={}, excerpt="", fault=why)
            return
        header = _header(first, path)
    _require_columns(header, spec, path=path, line=1 + spec.skip_lines)
    while True:
        block = _next_block(feed, spec, header)
        if block is not None:
            yield block
            continue
        row = next(rows, None)
        if row is None:
            return
        yield _row(header, *row)


def _next_block(feed: LineFeed, spec: LogSpec, header: Sequence[str]) -> RowBlock | None:
    """The next lines at once; None at the end, and where they have to be read row by row."""
    if not feed.is_between_blocks:
        return None
    text = feed.text.block()
    if not text:
        return None
    rows = cut_rows(text, spec, len(header))
    if rows is None:
        feed.text.put_back(text)
        return None
    block = RowBlock(text, spec, header, feed.row_starts_at, rows)
    feed.row_starts_at += rows.line_count
    return block


def _rows(feed: LineFeed, spec: LogSpec) -> Iterator[_CutRow]:
    """(first line, cells, text of the row, fault) of each row that is not an empty line."""
    reader = _reader(feed, spec)
    while True:
        line = feed.row_starts_at
        try:
            cells = next(reader)
        except StopIteration:
            return
        except (csv.Error, RowTooLongError) as error:
            if not feed.taken:
                return
            text, why = feed.first_line, _why(error, feed)
            feed.give_back()
            reader = _reader(feed, spec)
            yield line, [], text, why
            continue
        text = feed.row_text
        feed.next_row()
        if cells:
            yield line, cells, text, None


def _reader(feed: LineFeed, spec: LogSpec) -> Iterator[list[str]]:
    return csv.reader(feed, delimiter=spec.delimiter, quotechar=spec.quote, strict=True)


def _why(error: Exception, feed: LineFeed) -> str:
    if not feed.taken[0][1]:
        return f"the line is longer than {MAX_ROW_BYTES} characters"
    if isinstance(error, RowTooLongError):
        return "a quote is never closed, or closed only many lines further on"
    text = str(error)
    if "unexpected end of data" in text:
        return "a quote is never closed"
    if "field larger" in text:
        return (
            f"a cell is longer than {MAX_CELL_CHARACTERS} characters, or its quote is never closed"
        )
    return "a quote stands where none may stand"


def _header(first: _CutRow, path: str) -> Sequence[str]:
    line, cells, text, fault = first
    fault = fault or fault_of(text)
    if fault is not None:
        raise IntakeError(
            f"the names of the columns can't be read: {fault}",
            path=path,
            line=line,
            hint='declare the encoding: encoding = "utf-16", "cp1252" or "utf-8"',
        )
    names = [cell.strip() for cell in cells]
    if len(names) > MAX_COLUMNS:
        raise IntakeError(
            "too many columns",
            path=path,
            line=line,
            expected=f"at most {MAX_COLUMNS}",
            observed=str(len(names)),
        )
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise IntakeError(
            f"columns have the same name: {', '.join(repr(name) for name in twice)}",
            path=path,
            line=line,
            hint='name them yourself: columns = ["Ref", "Speed 1", "Speed 2"] and skip_lines = 1',
        )
    return names


def _require_columns(header: Sequence[str], spec: LogSpec, *, path: str, line: int) -> None:
    missing = [name for name in spec.needed_columns if name not in header]
    if missing:
        raise IntakeError(
            f"no column is named {', '.join(repr(name) for name in missing)}",
            path=path,
            line=line,
            expected=", ".join(repr(name) for name in missing),
            observed=", ".join(repr(name) for name in header)[:1_000],
            hint="name the column as it stands there, or mark the field optional = true; "
            f"the delimiter was read as {spec.delimiter!r}",
        )


def _row(
    header: Sequence[str], line: int, cells: list[str], excerpt: str, fault: str | None
) -> RawRow:
    raw = dict(zip(header, cells, strict=False))
    if fault is None and len(cells) != len(header):
        fault = f"{len(cells)} cells, where the header names {len(header)}"
        for number, cell in enumerate(cells[len(header) : MAX_COLUMNS], start=1):
            raw[f"surplus {number}"] = cell
    if fault is None:
        fault = fault_of(excerpt)
    return RawRow(line=line, place=0, raw=raw, excerpt=excerpt, fault=fault)
