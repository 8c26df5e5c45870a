"""Values of records as a reader expects them: times with offset, speeds, lengths, sizes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING

from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record
from evidpack.model.stamps import Stamp, StampStatus
from evidpack.model.values import JsonValue

if TYPE_CHECKING:
    from evidpack.index.table import Span  # what draws is slow to import, and words need none of it

ABSENT = "not given"
_PATH = re.compile(r"[^\s,;()]+/[^\s,;()]+")
_CAPTURE = re.compile(r"\bcaptures?\s+(\d+)(?:[–-]\d+)?\b", re.IGNORECASE)
# Units that a reader gathers from the value itself; 1 is the unit of a plain number.
_SILENT_UNITS = frozenset({"1", "count", "date", "names", ""})


def offset_text(moment: datetime) -> str:
    """The offset of an aware time from UTC, as ``+01:00``."""
    offset = moment.utcoffset() or timedelta(0)
    minutes = abs(int(offset.total_seconds())) // 60
    sign = "-" if offset < timedelta(0) else "+"
    return f"{sign}{minutes // 60:02d}:{minutes % 60:02d}"


def local_text(moment: datetime) -> str:
    """Date and time of day without offset; of a fraction, the digits that say something."""
    text = moment.replace(tzinfo=None).isoformat(sep=" ")
    return text.rstrip("0") if "." in text else text


def moment_text(moment: datetime) -> str:
    """An aware time with its offset."""
    return f"{local_text(moment)} {offset_text(moment)}"


def stamp_of(record: Record, name: str) -> Stamp | None:
    """The stamp of a field, or None where absent or not a stamp at all."""
    try:
        return record.stamp(name)
    except ValueError:
        return None


def stamp_text(record: Record, name: str, *, absent: str = ABSENT) -> str:
    """A recorded time, and what can't be said of it."""
    value = record.values.get(name)
    if value is None:
        return absent
    stamp = stamp_of(record, name)
    if stamp is None:
        return f"{value} (not a time)"
    if stamp.status is StampStatus.DETERMINED:
        return moment_text(stamp.instants[0])
    local = local_text(stamp.local)
    if stamp.status is StampStatus.AMBIGUOUS:
        either = " or ".join(offset_text(instant) for instant in stamp.instants)
        return f"{local} (twice that day: {either})"
    if stamp.status is StampStatus.NONEXISTENT:
        return f"{local} (no such time that day)"
    return f"{local} (zone not known)"


def speed_text(record: Record, name: str, *, absent: str = ABSENT) -> str:
    """A speed in the unit in which it was exported."""
    speed = record.speed(name)
    return absent if speed is None else str(speed)


def length_text(record: Record, name: str, *, absent: str = ABSENT) -> str:
    """A length in the unit in which it was exported."""
    length = record.length(name)
    return absent if length is None else str(length)


def day_text(day: date | None) -> str:
    """A date in words, in English whatever the locale."""
    if day is None:
        return ABSENT
    names = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    months = (
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    )
    return f"{names[day.weekday()]} {day.day} {months[day.month - 1]} {day.year}"


def size_text(size: int) -> str:
    """A size in bytes, thousands apart, as a verifier compares it."""
    return f"{size:,} bytes".replace(",", " ")


def count_text(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun."""
    return f"{count:,} {one if count == 1 else many or one + 's'}".replace(",", " ")


def span_text(span: timedelta) -> str:
    """A length of time in its two largest parts."""
    seconds = int(abs(span).total_seconds())
    parts = []
    for size, name in ((86_400, "day"), (3_600, "hour"), (60, "minute"), (1, "second")):
        amount, seconds = divmod(seconds, size)
        if amount:
            parts.append(count_text(amount, name))
    return " ".join(parts[:2]) or "less than a second"


def value_text(value: JsonValue, unit: str | None = None) -> str:
    """Any value of a finding on one line, with its unit."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, float):
        text = _plain_number(value)
    elif isinstance(value, list):
        text = ", ".join(value_text(part) for part in value) or "none"
    elif isinstance(value, dict):
        text = "; ".join(f"{name}: {value_text(part)}" for name, part in value.items())
    else:
        text = str(value)
    return text if unit is None or unit in _SILENT_UNITS else f"{text} {unit}"


def _plain_number(value: float) -> str:
    try:
        number = Decimal(repr(value))
    except InvalidOperation:
        return str(value)
    return f"{number.normalize():f}" if number.is_finite() else str(value)


def outcome_text(finding: Finding) -> str:
    """The outcome, and whether it counts as adverse."""
    if finding.outcome is Outcome.NOT_DETERMINABLE and finding.adverse:
        return "not determinable (required)"
    return finding.outcome.value


class Links:
    """Where the captures, files and sessions named in a text are shown in the document."""

    def __init__(self, captures: Mapping[int, str], files: Mapping[str, str]) -> None:
        self._captures = captures
        self._files = files

    def __call__(self, line: str) -> list[Span]:
        """The parts of a line that name something shown elsewhere, and where it is shown."""
        spans: list[Span] = []
        for match in _CAPTURE.finditer(line):
            target = self._captures.get(int(match.group(1)))
            if target is not None:
                spans.append((match.start(), match.end(), target))
        for match in _PATH.finditer(line):
            path = match.group().rstrip(".:")
            target = self._files.get(path)
            if target is not None:
                spans.append((match.start(), match.start() + len(path), target))
        return spans

    def file(self, path: str) -> str | None:
        """Where a file is shown, or None."""
        return self._files.get(path)
