"""Looks at the beginning of a log and proposes a ``[[log]]`` table for it."""

from __future__ import annotations

import codecs
import csv
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from evidpack.intake.dates import CellError, FormatError, compile_time
from evidpack.intake.describe_words import guess_fields, guess_kind, guess_unit
from evidpack.intake.toml_text import guess, quoted
from evidpack.intake.zones import resolve
from evidpack.model.fields import FIELDS, Field, FieldType, RecordKind

SAMPLE_BYTES: Final = 64 * 1024
_SAMPLE_ROWS: Final = 50
_DELIMITERS: Final = (";", "\t", "|", ",")
_DAYS: Final = (
    "%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%d-%m-%Y", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d",
    "%d/%m/%y", "%m/%d/%y", "%d.%m.%y", "%d %b %Y", "%d-%b-%Y", "%b %d %Y",
)  # fmt: skip
_CLOCKS: Final = (
    "%H:%M:%S", "%H:%M:%S.%f", "%H:%M:%S,%f", "%H:%M", "%H.%M.%S", "%H%M%S", "%I:%M:%S %p",
    "%I:%M %p",
)  # fmt: skip
_COMMA_NUMBER: Final = re.compile(r"[+-]?\d+,\d+")


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


def propose_log(sample: LogSample, *, glob: str, clock: str) -> tuple[str, RecordKind, str | None]:
    """The text of a ``[[log]]`` table, the kind of its records, and the column of the capture."""
    kind = guess_kind(glob, sample.columns)
    fields = dict(guess_fields(kind, sample.columns))
    comma = sample.format == "csv" and sample.delimiter != "," and _has_commas(sample)
    lines = [
        "[[log]]",
        f"glob = {quoted(glob)}",
        f"record = {guess(kind.value)}",
        f"format = {quoted(sample.format)}",
        f"encoding = {quoted(sample.encoding)}",
        f"clock = {quoted(clock)}",
    ]
    if sample.format == "csv":
        lines.append(f"delimiter = {quoted(sample.delimiter)}")
    if comma:
        lines.append(f"decimal = {guess(',')}")
    if sample.rows_path:
        lines.append(f"rows = {guess(sample.rows_path)}")
    lines.append("[log.fields]")
    capture = fields.get("capture")
    time = _time_line(sample, fields)
    known = FIELDS[kind]
    lines += [_field_line(known[name], fields[name]) for name in fields if name in known]
    if "time" in known:
        lines.append(time)
    lines += _missing_lines(kind, fields)
    text = "\n".join(lines)
    rest = [column for column in sample.columns if quoted(column)[1:-1] not in text]
    if rest:
        lines.append(f"# not mapped: {', '.join(quoted(column) for column in rest)}")
        lines.append(f"# fields there are: {', '.join(FIELDS[kind])}")
    return "\n".join(lines) + "\n", kind, capture


def _has_commas(sample: LogSample) -> bool:
    return any(
        _COMMA_NUMBER.fullmatch(cell.strip()) for row in sample.rows for cell in row.values()
    )


def _time_line(sample: LogSample, fields: dict[str, str]) -> str:
    """The line of `time`; takes its columns out of `fields`."""
    day, clock = fields.pop("date", None), fields.pop("clock_time", None)
    both = fields.pop("time", None)
    if both is None and (day is None or clock is None):
        both = day or clock
    if both is not None:
        form = guess_time_format(sample.cells(both))
        return f"time = {{ column = {quoted(both)}, format = {guess(form)} }}"
    if day is None or clock is None:
        form = guess("%d/%m/%Y %H:%M:%S")
        return f"time = {{ column = {guess('which column?')}, format = {form} }}"
    pairs = (f"{row.get(day, '')} {row.get(clock, '')}".strip() for row in sample.rows)
    form = guess_time_format([pair for pair in pairs if pair])
    return f"time = {{ columns = [{quoted(day)}, {quoted(clock)}], format = {guess(form)} }}"


def guess_time_format(samples: Sequence[str]) -> str:
    """The first format that reads every sample. 03/04 has two: a person must say which."""
    formats = [
        "rfc3339",
        *(f"{day}{gap}{clock}" for day in _DAYS for gap in (" ", "T") for clock in _CLOCKS),
    ]
    for form in (*formats, "unix-seconds"):
        if samples and _reads_all(form, samples):
            return form
    return "%d/%m/%Y %H:%M:%S"


def _reads_all(form: str, samples: Sequence[str]) -> bool:
    try:
        read = compile_time(form, lambda local: resolve(local, None))
        for sample in samples:
            read(sample)
    except (CellError, FormatError):
        return False
    return True


def _field_line(field: Field, column: str) -> str:
    name = quoted(column)
    if field.type is FieldType.SPEED:
        return (
            f"{field.name} = {{ column = {name}, unit = {guess(guess_unit(column, speed=True))} }}"
        )
    if field.type is FieldType.LENGTH:
        return (
            f"{field.name} = {{ column = {name}, unit = {guess(guess_unit(column, speed=False))} }}"
        )
    if field.type is FieldType.SERIES:
        unit = field.name.rpartition("_")[2]
        return f'{field.name} = {{ column = {name}, separator = ";", unit = {guess(unit)} }}'
    if field.type is FieldType.TIME:
        return f"{field.name} = {{ column = {name}, format = {guess('%d/%m/%Y %H:%M:%S')} }}"
    return f"{field.name} = {guess(column)}"


def _missing_lines(kind: RecordKind, fields: Mapping[str, str]) -> list[str]:
    return [
        _field_line(field, "confirm: which column?")
        for field in FIELDS[kind].values()
        if field.required and field.name not in fields and field.name != "time"
    ]
