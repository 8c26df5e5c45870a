"""Looks at the beginning of a log and cuts it into cells: encoding, delimiter, names, rows."""

from __future__ import annotations

import codecs
import csv
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

SAMPLE_BYTES: Final = 64 * 1024
_SAMPLE_ROWS: Final = 50
_DELIMITERS: Final = (";", "\t", "|", ",")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSample:
    """The beginning of a log, cut into cells."""

    format: str
    encoding: str
    delimiter: str
    rows_path: str
    columns: tuple[str, ...]
    rows: tuple[Mapping[str, str], ...]

    @property
    def shape(self) -> tuple[str, str, str, str, tuple[str, ...]]:
        """Logs of the same shape share a table."""
        return self.format, self.encoding, self.delimiter, self.rows_path, self.columns

    def cells(self, column: str) -> list[str]:
        """The cells of a column that are not empty."""
        found = (row.get(column, "").strip() for row in self.rows)
        return [cell for cell in found if cell]


def look_at(data: bytes, *, ending: str, whole: bool) -> LogSample | None:
    """Cuts the beginning of a log into cells; None where it can't be told how.

    `whole`: `data` is all of the file, not only its beginning.
    """
    encoding = _encoding(data)
    text = data.decode(_codec(encoding), "replace").replace("\0", "")
    if ending in {"json", "jsonl", "ndjson"}:
        return _look_at_json(text, encoding, lines=ending != "json", whole=whole)
    return _look_at_csv(text, encoding, whole=whole)


def _encoding(data: bytes) -> str:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if data[1:200:2].count(0) > len(data[1:200:2]) // 2:
        return "utf-16-le"
    if data[0:200:2].count(0) > len(data[0:200:2]) // 2:
        return "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        # A character cut in two at the end of the sample is no fault.
        return "utf-8" if error.start >= len(data) - 3 and error.start > 3 else "cp1252"
    return "utf-8"


def _codec(encoding: str) -> str:
    return "utf-8-sig" if encoding == "utf-8" else encoding


def _look_at_csv(text: str, encoding: str, *, whole: bool) -> LogSample | None:
    lines = text.splitlines()[: _SAMPLE_ROWS + 1]
    if not whole and len(lines) > 1 and len(lines) <= _SAMPLE_ROWS:
        lines.pop()
    if not lines or not lines[0].strip():
        return None
    delimiter = max(_DELIMITERS, key=lambda one: (_rows_alike(lines, one), lines[0].count(one)))
    try:
        rows = list(csv.reader(lines, delimiter=delimiter))
    except csv.Error:
        return None
    columns = tuple(cell.strip() for cell in rows[0])
    named = tuple(
        dict(zip(columns, row, strict=False)) for row in rows[1:] if len(row) == len(columns)
    )
    return LogSample(
        format="csv",
        encoding=encoding,
        delimiter=delimiter,
        rows_path="",
        columns=columns,
        rows=named,
    )


def _rows_alike(lines: Sequence[str], delimiter: str) -> int:
    """How many lines have as many delimiters as the first, where that has any."""
    first = lines[0].count(delimiter)
    return sum(line.count(delimiter) == first for line in lines) if first else 0


def _look_at_json(text: str, encoding: str, *, lines: bool, whole: bool) -> LogSample | None:
    try:
        if lines:
            found = [json.loads(line) for line in text.splitlines()[:_SAMPLE_ROWS] if line.strip()]
            path = ""
        elif whole:
            path, found = _rows_of(json.loads(text))
        else:
            return None
    except (ValueError, RecursionError):
        return None
    rows = tuple(_flat(row) for row in found[:_SAMPLE_ROWS] if isinstance(row, dict))
    columns = tuple(dict.fromkeys(name for row in rows for name in row))
    if not columns:
        return None
    return LogSample(
        format="jsonl" if lines else "json",
        encoding=encoding,
        delimiter="",
        rows_path=path,
        columns=columns,
        rows=rows,
    )


def _rows_of(value: Any) -> tuple[str, list[Any]]:
    """The longest list of objects in a file and the way to it, else the file as one row."""
    if isinstance(value, list):
        return "", value
    found: list[tuple[int, str, list[Any]]] = []
    pending: list[tuple[str, Any, int]] = [("", value, 0)]
    while pending:
        path, one, depth = pending.pop()
        if isinstance(one, dict) and depth < 4:
            pending += [
                (f"{path}.{key}" if path else key, inner, depth + 1) for key, inner in one.items()
            ]
        elif isinstance(one, list) and len(one) > 1 and all(isinstance(row, dict) for row in one):
            found.append((len(one), path, one))
    if not found:
        return "", [value]
    _, path, rows = max(found, key=lambda item: item[:2])
    return path, rows


def _flat(value: Any, name: str = "", depth: int = 0) -> dict[str, str]:
    if isinstance(value, dict) and depth < 8:
        cells: dict[str, str] = {}
        for key, inner in value.items():
            cells.update(_flat(inner, f"{name}.{key}" if name else key, depth + 1))
        return cells
    return {name: "" if value is None else value if isinstance(value, str) else json.dumps(value)}
