"""Proposes a ``[[log]]`` table for a log from its beginning."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.intake.dates import CellError, FormatError, compile_time
from evidpack.intake.describe_logs import LogSample
from evidpack.intake.describe_words import guess_choice, guess_fields, guess_kind, guess_unit
from evidpack.intake.toml_text import guess, quoted
from evidpack.intake.zones import resolve
from evidpack.model.fields import FIELDS, Field, FieldType, RecordKind

_DAYS: Final = (
    "%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%d-%m-%Y", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d",
    "%d/%m/%y", "%m/%d/%y", "%d.%m.%y", "%d %b %Y", "%d-%b-%Y", "%b %d %Y",
)  # fmt: skip
_CLOCKS: Final = (
    "%H:%M:%S", "%H:%M:%S.%f", "%H:%M:%S,%f", "%H:%M", "%H.%M.%S", "%H%M%S", "%I:%M:%S %p",
    "%I:%M %p",
)  # fmt: skip
_USUAL: Final = "%d/%m/%Y %H:%M:%S"
_WHICH: Final = "which column?"
_COMMA_NUMBER: Final = re.compile(r"[+-]?\d+,\d+")
_SEPARATORS: Final = (";", "|", "/", ",", " ")
_MAX_CHOICES: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class LogProposal:
    """The text of a ``[[log]]`` table, the kind of its records, the column of the capture's
    identifier, and the first day in it (``YYYY-MM-DD``), where they were found."""

    text: str
    kind: RecordKind
    capture: str | None
    day: str | None


def propose_log(sample: LogSample, *, glob: str, clock: str, video_clock: str) -> LogProposal:
    """A ``[[log]]`` table for logs like this one; `clock` names whose clock stamped them, and
    `video_clock` that of the frames of a clip."""
    kind = guess_kind(glob, sample.columns)
    found = dict(guess_fields(kind, sample.columns))
    lines = [
        "[[log]]",
        f"glob = {quoted(glob)}",
        f"record = {guess(kind.value)}",
        f"format = {quoted(sample.format)}",
        f"encoding = {quoted(sample.encoding)}",
        f"clock = {quoted(video_clock if kind is RecordKind.FRAME_TIME else clock)}",
    ]
    if sample.format == "csv":
        lines.append(f"delimiter = {quoted(sample.delimiter)}")
        if sample.delimiter != "," and _has_commas(sample):
            lines.append(f"decimal = {guess(',')}")
    if sample.rows_path:
        lines.append(f"rows = {guess(sample.rows_path)}")
    lines.append("[log.fields]")
    day = found.get("date")
    time = found.get("clock_time") if "time" not in found else found["time"]
    known = {name: column for name, column in found.items() if name in FIELDS[kind]}
    first_day: str | None = None
    if "time" in FIELDS[kind]:
        line, first_day = _time_line(sample, "time", time or day, day)
        lines.append(line)
        known.pop("time", None)
    lines += [
        _field_line(sample, FIELDS[kind][name], column, day) for name, column in known.items()
    ]
    lines += [
        _field_line(sample, field, f"confirm: {_WHICH}", day)
        for field in FIELDS[kind].values()
        if field.required and field.name not in known and field.name != "time"
    ]
    lines += _rest(sample, kind, "\n".join(lines))
    return LogProposal(
        text="\n".join(lines) + "\n", kind=kind, capture=found.get("capture"), day=first_day
    )


def _rest(sample: LogSample, kind: RecordKind, text: str) -> list[str]:
    """Comments that name the columns not mapped."""
    rest = [column for column in sample.columns if quoted(column)[1:-1] not in text]
    if not rest:
        return []
    return [
        f"# not mapped: {', '.join(quoted(column) for column in rest)}",
        f"# fields there are: {', '.join(FIELDS[kind])}",
    ]


def _has_commas(sample: LogSample) -> bool:
    return any(
        _COMMA_NUMBER.fullmatch(cell.strip()) for row in sample.rows for cell in row.values()
    )


def _time_line(
    sample: LogSample, name: str, column: str | None, day: str | None
) -> tuple[str, str | None]:
    """The line of a time, with the column of its day where it needs one; and the first day."""
    if column is None:
        return f"{name} = {{ column = {guess(_WHICH)}, format = {guess(_USUAL)} }}", None
    cells = sample.cells(column)
    form = guess_time_format(cells)
    where = f"column = {quoted(column)}"
    if form is None and day is not None and day != column:
        pairs = (f"{row.get(day, '')} {row.get(column, '')}".strip() for row in sample.rows)
        cells = [pair for pair in pairs if pair]
        form = guess_time_format(cells)
        where = f"columns = [{quoted(day)}, {quoted(column)}]"
    line = f"{name} = {{ {where}, format = {guess(form or _USUAL)} }}"
    return line, None if form is None else _first_day(form, cells[0])


def _first_day(form: str, cell: str) -> str:
    return compile_time(form, lambda local: resolve(local, None))(cell).local.date().isoformat()


def guess_time_format(samples: Sequence[str]) -> str | None:
    """The first format that reads every sample, or None. 03/04 has two: a person must say which."""
    formats = [f"{day}{gap}{clock}" for day in _DAYS for gap in (" ", "T") for clock in _CLOCKS]
    for form in ("rfc3339", *formats, "unix-seconds", "unix-milliseconds"):
        if samples and _reads_all(form, samples):
            return form
    return None


def _reads_all(form: str, samples: Sequence[str]) -> bool:
    try:
        read = compile_time(form, lambda local: resolve(local, None))
        for sample in samples:
            read(sample)
    except (CellError, FormatError):
        return False
    return True


def _field_line(sample: LogSample, field: Field, column: str, day: str | None) -> str:
    name = quoted(column)
    if field.type in (FieldType.SPEED, FieldType.LENGTH):
        unit = guess_unit(column, speed=field.type is FieldType.SPEED)
        return f"{field.name} = {{ column = {name}, unit = {guess(unit)} }}"
    if field.type is FieldType.SERIES:
        return _series_line(sample, field, column)
    if field.type is FieldType.TIME:
        return _time_line(sample, field.name, column, day)[0]
    if field.choices:
        return _choice_line(sample, field, column)
    return f"{field.name} = {guess(column)}"


def _series_line(sample: LogSample, field: Field, column: str) -> str:
    cells = [cell for cell in sample.cells(column) if not cell.startswith("[")]
    separator = next((one for one in _SEPARATORS if any(one in cell for cell in cells)), ";")
    base = field.name.rpartition("_")[2]
    words = re.findall("[a-z]+", column.lower())
    finer = {"s": "ms", "m": "ft"}[base]
    unit = finer if finer in words else base
    return (
        f"{field.name} = {{ column = {quoted(column)}, separator = {guess(separator)}, "
        f"unit = {guess(unit)} }}"
    )


def _choice_line(sample: LogSample, field: Field, column: str) -> str:
    """A map of the texts seen in a column to the words that the field knows."""
    texts = sorted(set(sample.cells(column)))
    if not 1 <= len(texts) <= _MAX_CHOICES or all(
        text.casefold() in field.choices for text in texts
    ):
        return f"{field.name} = {guess(column)}"
    pairs = [f"{quoted(text)} = {guess(guess_choice(field.choices, text))}" for text in texts]
    return f"{field.name} = {{ column = {quoted(column)}, map = {{ {', '.join(pairs)} }} }}"
