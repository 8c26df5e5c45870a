"""Readings numbered in the order of their times, each with its session.

The numbers do not depend on the order of the rows or files.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from itertools import islice
from operator import le
from typing import cast

from evidpack.model.columns import Columns
from evidpack.model.records import Record
from evidpack.model.stamps import Stamp
from evidpack.model.tables import (
    NO_INSTANT,
    RecordChain,
    RecordTable,
    has_any,
    instant_of,
    microseconds_of,
)
from evidpack.model.values import JsonValue


class NumberedReadings:
    """Readings in columns with what they can be joined by; a reading is named by its row."""

    def __init__(self, readings: Sequence[Record], sessions: Sequence[Record]) -> None:
        self.columns = columns = Columns(readings)
        count = len(readings)
        self.instants = columns.instants("time")
        self.captures = _texts(columns, "capture")
        self.image_numbers = columns.get("image_number")
        exported = _texts(columns, "session")
        self.sessions: Sequence[str | None] = exported
        self.hows: Sequence[str | None] = ["exported"] * count
        if None in exported:
            by_time = Spans(sessions).sessions_at(self.instants)
            self.sessions = by_time
            if has_any(exported):
                pairs = zip(exported, by_time, strict=True)
                self.sessions = [b if a is None else a for a, b in pairs]
            self.hows = [
                "exported" if a is not None else "by time" if b is not None else None
                for a, b in zip(exported, self.sessions, strict=True)
            ]
        self.rows = self._by_time()
        self.numbers: Sequence[int] = range(1, count + 1)
        if self.rows != range(count):
            numbers = [0] * count
            for number, row in enumerate(self.rows, start=1):
                numbers[row] = number
            self.numbers = numbers

    def _by_time(self) -> Sequence[int]:
        """Rows in the order of their times; of equal times in that of their sources."""
        times = self.instants
        if NO_INSTANT in times:
            values = self.columns.get("time") or [None] * len(times)
            times = [
                _order(value) if instant == NO_INSTANT else instant
                for value, instant in zip(values, times, strict=True)
            ]
        rows = range(len(times))
        if not isinstance(self.columns.records, RecordTable | RecordChain):
            records = self.columns.records
            return sorted(rows, key=lambda row: (times[row], records[row].source))
        if all(map(le, times, islice(times, 1, None))):
            return rows
        return sorted(rows, key=times.__getitem__)


def _texts(columns: Columns, name: str) -> Sequence[str | None]:
    found = columns.get(name)
    if found is None:
        return [None] * len(columns.records)
    if set(map(type, found)) <= {str, type(None)}:
        return cast("Sequence[str | None]", found)
    return [text if isinstance(text, str) else None for text in found]


def _order(value: JsonValue) -> int:
    """Where a reading whose time names no instant stands among others, in microseconds: an
    ambiguous time by its earlier instant, one of which nothing is known as if it were UTC.
    """
    if value is None:
        return microseconds_of(datetime.max.replace(tzinfo=UTC))
    stamp = Stamp.from_json(value)
    earliest = stamp.instants[0] if stamp.instants else stamp.local.replace(tzinfo=UTC)
    return microseconds_of(earliest)


class Spans:
    """When sessions were, to find the one session of an instant."""

    def __init__(self, sessions: Iterable[Record]) -> None:
        self._spans: list[tuple[str, int, int]] = []
        for session in sessions:
            start, end = (
                instant_of(session.values.get("start")),
                instant_of(session.values.get("end")),
            )
            if NO_INSTANT not in (start, end):
                self._spans.append((str(session.values.get("id")), start, end))
        # Between two neighbouring bounds, and on each, the answer is the same for all instants.
        self._bounds = sorted({bound for _, *bounds in self._spans for bound in bounds})
        self._known: dict[tuple[int, int], str | None] = {}

    def sessions_at(self, instants: Sequence[int]) -> list[str | None]:
        """For each instant the session within which it lies; None where there is none or more
        than one.
        """
        bounds, known = self._bounds, self._known
        if len(instants) and NO_INSTANT not in instants:
            first, last = min(instants), max(instants)
            if bisect_right(bounds, last) == bisect_left(bounds, first):  # no bound between them
                return [self._session_at(first)] * len(instants)
        found: list[str | None] = []
        for instant in instants:
            place = bisect_left(bounds, instant), bisect_right(bounds, instant)
            if place not in known:
                known[place] = self._session_at(instant)
            found.append(known[place])
        return found

    def _session_at(self, instant: int) -> str | None:
        inside = [name for name, start, end in self._spans if start <= instant <= end]
        return inside[0] if len(inside) == 1 and instant != NO_INSTANT else None
