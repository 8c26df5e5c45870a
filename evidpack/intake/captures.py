"""Readings, stills and clips joined into captures, as the profile says how.

Nothing is joined in silence: a still or clip that finds no reading, or more than one, says so.
The result does not depend on the order of the rows or files.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import cached_property
from itertools import islice
from operator import itemgetter
from typing import Final

from evidpack.intake.numbering import NumberedReadings
from evidpack.intake.profile import CaptureSpec
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from evidpack.model.tables import NO_INSTANT, RecordChain, RecordTable, has_any, instant_of
from evidpack.model.values import JsonValue

HOW: Final[dict[str, str]] = {
    "identifier": "identifier",
    "file-name": "file name",
    "nearest-time": "nearest time, inferred",
}


def join_captures(
    readings: Sequence[Record],
    sessions: Sequence[Record],
    pictures: Sequence[Record],
    spec: CaptureSpec | None,
) -> tuple[Sequence[Record], list[Record]]:
    """The capture records, in the order of the readings, and the still and clip records with what
    they were joined to.
    """
    numbered = NumberedReadings(readings, sessions)
    joiner = _Joiner(numbered, spec, {str(one.values.get("id")) for one in sessions})
    joined = [joiner.join(picture) for picture in pictures]
    return joiner.captures(), joined


class _Joiner:
    """Finds the readings of each still and clip."""

    def __init__(
        self, readings: NumberedReadings, spec: CaptureSpec | None, sessions: set[str]
    ) -> None:
        self._readings = readings
        self._spec = spec
        self._sessions = sessions
        self._found: dict[int, dict[RecordKind, list[str]]] = {}

    @cached_property
    def _by_capture(self) -> Mapping[str, list[int]]:
        found: dict[str, list[int]] = {}
        for row in self._readings.rows:
            capture = self._readings.captures[row]
            if capture is not None:
                found.setdefault(capture, []).append(row)
        return found

    @cached_property
    def _by_stem(self) -> Mapping[str, list[int]]:
        found: dict[str, list[int]] = {}
        paths = [path for path, _, _ in self._readings.columns.sources()]
        per_file = Counter(paths)
        for row in self._readings.rows:
            capture = self._readings.captures[row]
            if capture is not None:
                found.setdefault(_stem(capture), []).append(row)
            elif per_file[paths[row]] == 1:  # one file per capture: its name is what it is called
                found.setdefault(_stem(paths[row]), []).append(row)
        return found

    @cached_property
    def _by_image(self) -> Mapping[int, list[int]]:
        found: dict[int, list[int]] = {}
        numbers = self._readings.image_numbers
        if numbers is None:
            return found
        for row in self._readings.rows:
            number = numbers[row]
            if isinstance(number, int) and not isinstance(number, bool):
                found.setdefault(number, []).append(row)
        return found

    @cached_property
    def _timed(self) -> Sequence[tuple[int, int]]:
        """Instant and row of each reading that has one, by instant and number."""
        instants, numbers = self._readings.instants, self._readings.numbers
        found = [(instants[row], row) for row in self._readings.rows]
        found = [pair for pair in found if pair[0] != NO_INSTANT]
        return sorted(found, key=lambda pair: (pair[0], numbers[pair[1]]))

    def join(self, picture: Record) -> Record:
        """The still or clip with `joined` and `captures`."""
        wanted = self._wanted(picture)
        joined: str
        if wanted is None:
            joined, wanted = "not declared", []
        elif len(wanted) == 1:
            joined = "yes"
        elif wanted:
            joined = "doubly matched"
        elif picture.kind is RecordKind.CLIP and self._is_of_session(picture):
            joined = "session"
        else:
            joined = "unmatched"
        path = str(picture.values["path"])
        for row in wanted:
            self._found.setdefault(row, {}).setdefault(picture.kind, []).append(path)
        numbers: list[JsonValue] = [self._readings.numbers[row] for row in wanted]
        values: Mapping[str, JsonValue] = {**picture.values, "joined": joined, "captures": numbers}
        return replace(picture, values=values)

    def captures(self) -> Sequence[Record]:
        """The captures of all readings, once everything has been joined."""
        columns = self._columns()
        parts: list[Sequence[Record]] = []
        start = 0
        for part in self._readings.columns.parts:
            end = start + len(part)
            if len(part) != len(self._readings.numbers):
                cut = {name: column[start:end] for name, column in columns.items()}
                parts.append(_captures_beside(part, cut))
            else:
                parts.append(_captures_beside(part, columns))
            start = end
        return parts[0] if len(parts) == 1 else RecordChain(parts)

    def _columns(self) -> dict[str, Sequence[JsonValue]]:
        """The values of all captures, in the order of the readings."""
        readings = self._readings
        none: list[JsonValue] = []
        stills: list[JsonValue] = [none] * len(readings.numbers)
        clips = list(stills)
        how: list[JsonValue] = [None] * len(readings.numbers)
        for row, found in self._found.items():
            stills[row] = [*sorted(found.get(RecordKind.STILL, ()))]
            clips[row] = [*sorted(found.get(RecordKind.CLIP, ()))]
            how[row] = HOW[self._spec.join] if self._spec is not None else None
        return {
            "number": readings.numbers,
            "stills": stills,
            "clips": clips,
            "capture": readings.captures,
            "session": readings.sessions,
            "session_how": readings.hows,
            "how": how,
        }

    def _is_of_session(self, picture: Record) -> bool:
        return picture.text("capture") is None and picture.text("session") in self._sessions

    def _wanted(self, picture: Record) -> list[int] | None:
        """The readings of a still or clip, by number; None where nothing says how to find them."""
        if self._spec is None:
            return None
        if self._spec.join == "nearest-time":
            return self._nearest(picture)
        found = self._named(picture, by_file_name=self._spec.join == "file-name")
        session = picture.text("session")
        if found and session is not None:
            found = [row for row in found if self._readings.sessions[row] in (session, None)]
        return found

    def _named(self, picture: Record, *, by_file_name: bool) -> list[int] | None:
        capture = picture.text("capture")
        if capture is None and not by_file_name:
            capture = picture.text("image_unique_id")
        if capture is not None:
            found = self._by_capture.get(capture)
            if found is None and by_file_name:
                found = self._by_stem.get(capture.casefold())
            return list(found or ())
        if by_file_name:
            image = picture.integer("image_number")
            if image is not None and self._by_image:
                return list(self._by_image.get(image, ()))
            if picture.text("session") is None:
                return list(self._by_stem.get(_stem(str(picture.values["path"])), ()))
        if picture.kind is RecordKind.CLIP and picture.text("session") is None:
            return None
        return []

    def _nearest(self, picture: Record) -> list[int] | None:
        at = instant_of(picture.values.get("time"))
        if at == NO_INSTANT:
            if picture.kind is RecordKind.CLIP:
                return self._named(picture, by_file_name=False)
            return []
        within_s = (self._spec.within_s if self._spec else None) or 0
        bound = timedelta(seconds=within_s) // timedelta(microseconds=1)
        best: list[int] = []
        least = bound
        start = bisect_left(self._timed, at - bound, key=itemgetter(0))
        for when, row in islice(self._timed, start, None):
            distance = abs(when - at)
            if when - at > bound:
                break
            if distance < least or (not best and distance <= least):
                best, least = [row], distance
            elif distance == least:
                best.append(row)
        return best


def _captures_beside(
    readings: Sequence[Record], columns: Mapping[str, Sequence[JsonValue]]
) -> Sequence[Record]:
    """The captures of some readings, with their sources: in columns where the readings are."""
    if isinstance(readings, RecordTable):
        given = {name: one for name, one in columns.items() if has_any(one)}
        return RecordTable(
            kind=RecordKind.CAPTURE,
            path=readings.path,
            lines=readings.lines,
            columns=given,
            instants={},
        )
    return tuple(
        Record(
            kind=RecordKind.CAPTURE,
            source=reading.source,
            values={name: one[row] for name, one in columns.items() if one[row] is not None},
        )
        for row, reading in enumerate(readings)
    )


def _stem(path: str) -> str:
    """The name of a file without folder and ending, case ignored."""
    name = path.replace("\\", "/").rpartition("/")[2]
    return (name.rpartition(".")[0] or name).casefold()
