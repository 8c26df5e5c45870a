"""Times of one column, read a minute at a time: the answers of `compile_time`, much quicker.

A log is full of times that differ in their seconds alone.  The reader of the declared format reads
each minute twice, at its first and at its last second; where both name one instant with the same
offset, every time between them is that minute plus its seconds, by arithmetic.  Whatever does not
look exactly so goes to the reader itself, cell by cell.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final, NamedTuple, cast

from evidpack.intake.dates import (
    RFC3339,
    CellError,
    ToTime,
    fraction_sign,
    seconds_stand_last,
)
from evidpack.model.stamps import Stamp
from evidpack.model.tables import NO_INSTANT, microseconds_of
from evidpack.model.values import JsonValue

# The cells of one row → their text, as intake joins it; empty where the row has no time.
ToText = Callable[[Sequence[str]], str]

_SECONDS: Final = {f"{second:02d}": second * 1_000_000 for second in range(60)}
_REMEMBERED: Final = 50_000
_ISO: Final = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:)00([+-]\d\d:\d\d(?::\d\d)?)", re.ASCII)


@dataclass(slots=True)
class ReadTimes:
    """What the rows of a column say: values (None where a row has none), instants as in
    `RecordTable`, and by row why a text is no time.
    """

    values: list[JsonValue]
    instants: list[int]
    reasons: dict[int, str]


class _Cut(NamedTuple):
    """A text cut at its seconds: `start` ends before them, `end` follows their fraction."""

    start: str
    second: str
    point: str
    fraction: str
    end: str


class _Minute(NamedTuple):
    """A minute of one offset: RFC 3339 text before and after its seconds, and where it starts."""

    before: str
    after: str
    start_us: int


class TimeCells:
    """Reads the times of a column, or of several whose texts are joined.

    `empty` are the texts that count as no cell.
    """

    def __init__(
        self, declared: str, read: ToTime, text_of: ToText, *, empty: Collection[str]
    ) -> None:
        self._read = read
        self._text_of = text_of
        self._cut = _cutter(declared)
        if any(word[-1:].isdigit() or word[-1:] in "Zz" for word in empty if word):
            self._cut = None  # such a word could stand for one second of a minute
        self._ends_with_seconds = self._cut is _at_seconds
        self._minutes: dict[Hashable, dict[str, _Minute | None]] = {}
        self._count = 0
        self._cells: dict[tuple[str, ...], tuple[JsonValue, int]] = {}
        self._fractions: dict[str, tuple[int, str]] = {"": (0, "")}

    def read(self, cells: Sequence[Sequence[str]]) -> ReadTimes:
        """Reads the rows whose cells these are, one sequence a column."""
        found = ReadTimes(values=[], instants=[], reasons={})
        leads: Sequence[Hashable] = cells[0]
        if len(cells) != 2:
            leads = list(zip(*cells[:-1], strict=True)) if cells[1:] else [()] * len(cells[0])
        quick = self._read_quick if self._ends_with_seconds else self._read_cut
        quick(leads, cells, found)
        return found

    def _read_quick(
        self, leads: Sequence[Hashable], cells: Sequence[Sequence[str]], found: ReadTimes
    ) -> None:
        """The commonest format, whose texts end with the seconds, all rows at once; where they
        don't allow it, as `_read_cut`.
        """
        lasts = cells[-1]
        if not lasts or leads.count(leads[0]) != len(leads):
            self._read_cut(leads, cells, found)
            return
        seconds = [last[-2:] for last in lasts]
        starts = [last[:-2] for last in lasts]
        offsets = list(map(_SECONDS.get, seconds))
        known = self._minutes.setdefault(leads[0], {})
        for start in set(starts).difference(known):
            self._minute(0, leads[0], cells, _Cut(start, "", "", "", ""))
        known = self._minutes.get(leads[0], {})
        minutes = list(map(known.get, starts))
        if None in minutes or None in offsets:
            self._read_cut(leads, cells, found)
            return
        whole = cast("list[_Minute]", minutes)
        found.values += [
            f"{one[0]}{second}{one[1]}" for one, second in zip(whole, seconds, strict=True)
        ]
        found.instants += [
            one[2] + offset for one, offset in zip(whole, cast("list[int]", offsets), strict=True)
        ]

    def _read_cut(
        self, leads: Sequence[Hashable], cells: Sequence[Sequence[str]], found: ReadTimes
    ) -> None:
        for row, lead in enumerate(leads):
            self._read_one(row, lead, cells, found)

    def _read_one(
        self, row: int, lead: Hashable, cells: Sequence[Sequence[str]], found: ReadTimes
    ) -> None:
        cut = self._cut(cells[-1][row]) if self._cut is not None else None
        if cut is not None and cut.second in _SECONDS:
            fraction = self._fraction(cut.fraction)
            minute = self._minute(row, lead, cells, cut) if fraction is not None else None
            if fraction is not None and minute is not None:
                instant = minute.start_us + _SECONDS[cut.second] + fraction[0]
                found.instants.append(instant)
                found.values.append(f"{minute.before}{cut.second}{fraction[1]}{minute.after}")
                return
        value, instant = self._slow(row, tuple(column[row] for column in cells), found)
        found.values.append(value)
        found.instants.append(instant)

    def _slow(self, row: int, cells: tuple[str, ...], found: ReadTimes) -> tuple[JsonValue, int]:
        """By the reader of the format itself; equal cells are read once where they are few."""
        known = self._cells.get(cells)
        if known is not None:
            return known
        text = self._text_of(cells)
        if not text:
            return None, NO_INSTANT
        try:
            stamp = self._read(text)
        except CellError as error:
            found.reasons[row] = str(error)
            return None, NO_INSTANT
        instant = stamp.determined
        answer = stamp.to_json(), NO_INSTANT if instant is None else microseconds_of(instant)
        if len(self._cells) >= _REMEMBERED:
            self._cells.clear()
        self._cells[cells] = answer
        return answer

    def _fraction(self, digits: str) -> tuple[int, str] | None:
        """Microseconds of a fraction, and how RFC 3339 text shows them."""
        known = self._fractions.get(digits)
        if known is None:
            if not (digits.isascii() and digits.isdigit() and len(digits) <= 9):
                return None
            microseconds = int(digits[:6].ljust(6, "0"))
            known = microseconds, f".{microseconds:06d}" if microseconds else ""
            if len(self._fractions) < _REMEMBERED:
                self._fractions[digits] = known
        return known

    def _minute(
        self, row: int, lead: Hashable, cells: Sequence[Sequence[str]], cut: _Cut
    ) -> _Minute | None:
        """The minute of a row, or None where it can't be read so."""
        tail = (f"{cut.point}0" if cut.fraction else "") + cut.end
        key = (lead, tail) if tail else lead
        minutes = self._minutes.get(key)
        if minutes is None:
            minutes = self._minutes[key] = {}
        if cut.start not in minutes:
            self._count += 1
            if self._count > _REMEMBERED:
                self._minutes.clear()
                self._count = 1
                minutes = self._minutes[key] = {}
            before = [column[row] for column in cells[:-1]]
            minutes[cut.start] = self._steady(
                [*before, f"{cut.start}00{tail}"], [*before, f"{cut.start}59{tail}"]
            )
        return minutes[cut.start]

    def _steady(self, first: Sequence[str], last: Sequence[str]) -> _Minute | None:
        """The minute between its first and its last second, if the same offset holds in it."""
        try:
            stamps: list[Stamp] = [self._read(self._text_of(cells)) for cells in (first, last)]
        except CellError:
            return None
        start, end = stamps[0].determined, stamps[1].determined
        if start is None or end is None or start.utcoffset() != end.utcoffset():
            return None
        text = _ISO.fullmatch(start.isoformat())
        if text is None or (end - start).total_seconds() != 59:
            return None
        return _Minute(text[1], text[2], microseconds_of(start))


def _cutter(declared: str) -> Callable[[str], _Cut] | None:
    """What cuts a text of this format at its seconds; None where they stand elsewhere."""
    if declared == RFC3339:
        return _at_rfc3339
    if seconds_stand_last(declared):
        return _at_seconds
    point = fraction_sign(declared)
    return None if point is None else partial(_at_fraction, point)


def _at_seconds(text: str) -> _Cut:
    return _Cut(text[:-2], text[-2:], "", "", "")


def _at_fraction(point: str, text: str) -> _Cut:
    whole, _, fraction = text.rpartition(point)
    return _Cut(whole[:-2], whole[-2:], point, fraction, "")


def _at_rfc3339(text: str) -> _Cut:
    rest = text[19:]
    if rest[:1] != ".":
        return _Cut(text[:17], text[17:19], "", "", rest)
    end = rest.lstrip(".0123456789")
    # A point without digits is no fraction, nor is it nothing: the format's reader says so.
    return _Cut(text[:17], text[17:19], ".", rest[1 : len(rest) - len(end)] or ".", end)
