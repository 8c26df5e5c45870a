"""JSON and JSON Lines logs (RFC 8259). Numbers keep their text as exported.

A row is flattened to cells: a member of an object has its name after a dot, an object in a list
its number.  A list of plain values is one cell, written as a JSON list.  A cell whose name begins
with ``/`` is counted from the top of the file instead of from the row.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any, BinaryIO, Final

from evidpack.errors import IntakeError
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.logs_csv import RawRow
from evidpack.intake.text_lines import fault_of, lines, text_stream
from evidpack.limits import (
    MAX_CELL_CHARACTERS,
    MAX_COLUMNS,
    MAX_JSON_DEPTH,
    MAX_JSON_LOG_BYTES,
    MAX_LOG_BYTES,
    MAX_ROW_BYTES,
    MAX_UNREADABLE_EXCERPT_CHARACTERS,
)

_SPACE: Final = re.compile(r"[ \t\r\n]*")


class _NumberText(str):
    """A number as it was written."""

    __slots__ = ()


class _JsonError(ValueError):
    """Text that can't be taken as JSON; the message says why."""


class _Doubled:
    """An object in which a name stands twice: one row can't be read, the rest can."""

    def __init__(self, name: str) -> None:
        self.name = name


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any] | _Doubled:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    return _Doubled(Counter(name for name, _ in pairs).most_common(1)[0][0])


_DECODER: Final = json.JSONDecoder(
    object_pairs_hook=_pairs,
    parse_float=_NumberText,
    parse_int=_NumberText,
    parse_constant=_NumberText,
)


def read_json(stream: BinaryIO, spec: LogSpec, *, path: str, size: int) -> Iterator[RawRow]:
    """The rows of a JSON file: one for each member of the list at `spec.rows`, or one in all."""
    if size > MAX_JSON_LOG_BYTES:
        raise IntakeError(
            "the JSON file is too large",
            path=path,
            expected=f"at most {MAX_JSON_LOG_BYTES} bytes",
            observed=f"{size} bytes",
            hint="export it as JSON Lines or CSV",
        )
    with text_stream(stream, encoding=spec.encoding, path=path) as stream_of_text:
        text = stream_of_text.read()
    yield from _Walk(text, spec).rows()


def read_json_lines(stream: BinaryIO, spec: LogSpec, *, path: str, size: int) -> Iterator[RawRow]:
    """The rows of a JSON Lines file: each line that is not blank is one, or holds a list of them."""
    if size > MAX_LOG_BYTES:
        raise IntakeError(
            "the log is too large",
            path=path,
            expected=f"at most {MAX_LOG_BYTES} bytes",
            observed=f"{size} bytes",
        )
    with text_stream(stream, encoding=spec.encoding, path=path) as text:
        for number, (line, whole) in enumerate(lines(text), start=1):
            if not whole:
                fault = f"the line is longer than {MAX_ROW_BYTES} characters"
                yield RawRow(line=number, place=0, raw={}, excerpt=line, fault=fault)
            elif line.strip():
                yield from _Walk(line, spec, first_line=number).rows()


class _Walk:
    """Goes through the rows of one JSON text, keeping count of lines."""

    def __init__(self, text: str, spec: LogSpec, *, first_line: int = 1) -> None:
        self._text = text
        self._spec = spec
        self._at = 0
        self._line = first_line
        self._counted_to = 0
        self._on_line = (0, 0)  # a line, and how many rows began on it
        self._outside = self._outside_cells()

    def rows(self) -> Iterator[RawRow]:
        """The rows. What is no JSON is one row with a fault, and ends the reading."""
        try:
            self._skip()
            for name in self._spec.rows:
                self._descend(name)
            if self._spec.rows or self._peek() == "[":
                yield from self._members()
            else:
                yield self._row()
            self._skip()
            self._require_end()
        except _JsonError as error:
            excerpt = self._text[self._at : self._at + MAX_UNREADABLE_EXCERPT_CHARACTERS]
            yield self._raw_row({}, excerpt, str(error))

    def _require_end(self) -> None:
        # What stands around the rows of a larger text is not read.
        if not self._spec.rows and self._at < len(self._text):
            raise _JsonError("something stands after the end of the JSON")

    def _outside_cells(self) -> dict[str, str]:
        """The cells that are counted from the top of the file."""
        named = {name for field in self._spec.fields for name in field.columns}
        wanted = {name for name in named if name.startswith("/")}
        if not wanted:
            return {}
        try:
            top, _ = _decode(self._text, _SPACE.match(self._text).end())  # type: ignore[union-attr]
        except _JsonError:
            return {}
        found: dict[str, str] = {}
        for name in wanted:
            value = top
            for part in name[1:].split("."):
                value = value.get(part) if isinstance(value, dict) else None
            if value is not None and _is_plain(value):
                found[name] = _cell(value)
        return found

    def _peek(self) -> str:
        return self._text[self._at : self._at + 1]

    def _skip(self) -> None:
        found = _SPACE.match(self._text, self._at)
        self._at = found.end() if found else self._at

    def _take(self, character: str, why: str) -> None:
        self._skip()
        if self._peek() != character:
            raise _JsonError(why)
        self._at += 1
        self._skip()

    def _descend(self, name: str) -> None:
        """Moves to the value of one member of the object that begins here."""
        self._take("{", f"there is no object with {name!r} in it")
        while self._peek() == '"':
            key, self._at = _decode(self._text, self._at)
            self._take(":", "not JSON: a colon is missing")
            if key == name:
                return
            _, self._at = _decode(self._text, self._at)
            self._skip()
            if self._peek() != ",":
                break
            self._take(",", "not JSON: a comma is missing")
        raise _JsonError(f"there is no {name!r} on the way to the rows")

    def _members(self) -> Iterator[RawRow]:
        self._take("[", "there is no list of rows where the description says")
        while self._peek() != "]":
            yield self._row()
            self._skip()
            if self._peek() != "]":
                self._take(",", "not JSON: a comma or the end of the list is missing")
        self._at += 1

    def _row(self) -> RawRow:
        start = self._at
        value, end = _decode(self._text, start)
        excerpt = self._text[start : min(end, start + MAX_UNREADABLE_EXCERPT_CHARACTERS)]
        row = self._flat_row(value, excerpt, end - start)
        self._at = end
        return row

    def _flat_row(self, value: Any, excerpt: str, length: int) -> RawRow:
        cells: dict[str, str] = dict(self._outside)
        fault: str | None = None
        if not isinstance(value, (dict, _Doubled)):
            fault = "a row is an object with names, and this is none"
        elif length > MAX_ROW_BYTES:
            fault = f"the row is longer than {MAX_ROW_BYTES} characters"
        else:
            try:
                _flatten(value, "", cells, 0)
            except _JsonError as error:
                fault = str(error)
        if fault is None:
            faults = (fault_of(text) for pair in cells.items() for text in pair)
            fault = next((one for one in faults if one is not None), None)
        return self._raw_row(cells, excerpt, fault)

    def _raw_row(self, cells: dict[str, str], excerpt: str, fault: str | None) -> RawRow:
        self._line += _line_ends(self._text, self._counted_to, self._at)
        self._counted_to = max(self._counted_to, self._at)
        line, place = self._on_line
        place = place if line == self._line else 0
        self._on_line = (self._line, place + 1)
        return RawRow(line=self._line, place=place, raw=cells, excerpt=excerpt, fault=fault)


def _line_ends(text: str, start: int, end: int) -> int:
    return text.count("\n", start, end)


def _decode(text: str, at: int) -> tuple[Any, int]:
    """One JSON value and where it ends. Raises _JsonError."""
    try:
        return _DECODER.raw_decode(text, at)
    except _JsonError:
        raise
    except RecursionError as error:
        raise _JsonError("the JSON is nested too deep") from error
    except (ValueError, StopIteration) as error:
        why = error.msg if isinstance(error, json.JSONDecodeError) else "it ends too early"
        raise _JsonError(f"not JSON: {why}") from error


def _flatten(value: Any, name: str, cells: dict[str, str], depth: int) -> None:
    """Adds the cells of a value under its dotted name. Raises _JsonError."""
    if depth > MAX_JSON_DEPTH:
        raise _JsonError("the JSON is nested too deep")
    if isinstance(value, _Doubled):
        raise _JsonError(f"the name {value.name[:60]!r} stands twice in one object")
    if isinstance(value, dict):
        for key, inner in value.items():
            _flatten(inner, f"{name}.{key}" if name else key, cells, depth + 1)
        return
    if isinstance(value, list) and not _is_plain(value):
        for number, inner in enumerate(value):
            _flatten(inner, f"{name}.{number}", cells, depth + 1)
        return
    if name in cells:
        raise _JsonError(f"two cells come out under the name {name[:60]!r}")
    if len(cells) >= MAX_COLUMNS:
        raise _JsonError(f"the row has more than {MAX_COLUMNS} cells")
    text = _cell(value)
    if len(text) > MAX_CELL_CHARACTERS:
        raise _JsonError(f"a cell is longer than {MAX_CELL_CHARACTERS} characters")
    cells[name] = text


def _is_plain(value: Any) -> bool:
    """Whether a value is one cell: no object, and no list with more than plain values in it."""
    if isinstance(value, list):
        return not any(isinstance(inner, (dict, list, _Doubled)) for inner in value)
    return not isinstance(value, (dict, _Doubled))


def _cell(value: Any) -> str:
    """The text of a plain value; null and nothing are the same."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return str(value)
    return "[" + ", ".join(_inner(inner) for inner in value) + "]"


def _inner(value: Any) -> str:
    if isinstance(value, _NumberText):
        return str(value)
    return json.dumps(value, ensure_ascii=False)
