"""CSV logs (RFC 4180 with a declared delimiter), row by row, in bounded memory.

A row keeps the number of its first line.  A quote that is never closed costs only its own line:
the lines that it swallowed are then read one by one.
"""

from __future__ import annotations

import csv
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO, TypeAlias

from evidpack.errors import IntakeError
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.text_lines import fault_of, lines, text_stream
from evidpack.limits import (
    MAX_CELL_CHARACTERS,
    MAX_COLUMNS,
    MAX_LOG_BYTES,
    MAX_ROW_BYTES,
    MAX_ROW_LINES,
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


class _RowTooLongError(Exception):
    """A row goes on for longer than a row may."""


class _Feed:
    """Hands lines to the csv reader and remembers those of the row that is being read."""

    def __init__(self, source: Iterator[tuple[str, bool]]) -> None:
        self._source = source
        self._again: deque[tuple[str, bool]] = deque()
        self._characters = 0
        self.taken: list[tuple[str, bool]] = []
        self.row_starts_at = 1  # number of the first line of the row
        self.single = 0  # that many lines must each be a row of their own

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self.taken:
            if self.single or len(self.taken) >= MAX_ROW_LINES:
                raise _RowTooLongError
            if self._characters > MAX_ROW_BYTES:
                raise _RowTooLongError
        line = self._again.popleft() if self._again else next(self._source)
        self.taken.append(line)
        self._characters += len(line[0])
        if not line[1]:
            raise _RowTooLongError
        return line[0]

    def next_row(self) -> None:
        """The row that was being read is done."""
        self.row_starts_at += len(self.taken)
        self.single = max(0, self.single - len(self.taken))
        self.taken = []
        self._characters = 0

    def give_back(self) -> None:
        """Only the first line of the row is done; the others are to be read alone."""
        others = self.taken[1:]
        self._again.extendleft(reversed(others))
        del self.taken[1:]
        self.next_row()
        self.single = max(self.single, len(others))

    @property
    def first_line(self) -> str:
        """The first line of the row, without its end."""
        return self.taken[0][0].rstrip("\r\n") if self.taken else ""

    @property
    def row_text(self) -> str:
        """All lines of the row."""
        return "".join(line for line, _ in self.taken).rstrip("\r\n")


def read_rows(stream: BinaryIO, spec: LogSpec, *, path: str, size: int) -> Iterator[RawRow]:
    """The rows of a CSV file. Raises IntakeError for a header that can't be used."""
    if size > MAX_LOG_BYTES:
        raise IntakeError(
            "the log is too large",
            path=path,
            expected=f"at most {MAX_LOG_BYTES} bytes",
            observed=f"{size} bytes",
        )
    csv.field_size_limit(MAX_CELL_CHARACTERS)
    with text_stream(stream, encoding=spec.encoding, path=path) as text:
        feed = _Feed(lines(text))
        for _ in range(spec.skip_lines):
            if next(feed, None) is None:
                break
            feed.next_row()
        yield from _named_rows(_rows(feed, spec), spec, path)


def _named_rows(rows: Iterator[_CutRow], spec: LogSpec, path: str) -> Iterator[RawRow]:
    header: Sequence[str] = spec.columns
    if not header:
        first = next(rows, None)
        if first is None:
            why = "the file has no line with names of columns"
            yield RawRow(line=1, place=0, raw={}, excerpt="", fault=why)
            return
        header = _header(first, path)
    _require_columns(header, spec, path=path, line=1 + spec.skip_lines)
    for line, cells, excerpt, fault in rows:
        yield _row(header, line, cells, excerpt, fault)


def _rows(feed: _Feed, spec: LogSpec) -> Iterator[_CutRow]:
    """(first line, cells, text of the row, fault) of each row that is not an empty line."""
    reader = _reader(feed, spec)
    while True:
        line = feed.row_starts_at
        try:
            cells = next(reader)
        except StopIteration:
            return
        except (csv.Error, _RowTooLongError) as error:
            if not feed.taken:
                return
            yield line, [], feed.first_line, _why(error, feed)
            feed.give_back()
            reader = _reader(feed, spec)
            continue
        if cells:
            yield line, cells, feed.row_text, None
        feed.next_row()


def _reader(feed: _Feed, spec: LogSpec) -> Iterator[list[str]]:
    return csv.reader(feed, delimiter=spec.delimiter, quotechar=spec.quote, strict=True)


def _why(error: Exception, feed: _Feed) -> str:
    if not feed.taken[0][1]:
        return f"the line is longer than {MAX_ROW_BYTES} characters"
    if isinstance(error, _RowTooLongError):
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
