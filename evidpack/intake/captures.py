"""Readings, stills and clips joined into captures, as the profile says how.

Nothing is joined in silence: a still or clip that finds no reading, or more than one, says so.
The result does not depend on the order of the rows or files.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

from evidpack.intake.profile import CaptureSpec
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from evidpack.model.stamps import Stamp, StampStatus
from evidpack.model.values import JsonValue

HOW: Final[dict[str, str]] = {
    "identifier": "identifier",
    "file-name": "file name",
    "nearest-time": "nearest time, inferred",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """A reading with what it can be joined by."""

    number: int
    record: Record
    capture: str | None
    session: str | None
    session_how: str | None
    image_number: int | None
    at: datetime | None


def join_captures(
    readings: Sequence[Record],
    sessions: Sequence[Record],
    pictures: Sequence[Record],
    spec: CaptureSpec | None,
) -> tuple[list[Record], list[Record]]:
    """The capture records, and the still and clip records with what they were joined to."""
    numbered = _numbered(readings, sessions)
    joiner = _Joiner(numbered, spec, {str(one.values.get("id")) for one in sessions})
    joined = [joiner.join(picture) for picture in pictures]
    return [joiner.capture(reading) for reading in numbered], joined


def _numbered(readings: Sequence[Record], sessions: Sequence[Record]) -> list[_Reading]:
    spans = _spans(sessions)
    ordered = sorted(readings, key=lambda one: (_order(one), one.source))
    found: list[_Reading] = []
    for number, record in enumerate(ordered, start=1):
        stamp = record.stamp("time")
        session, how = record.text("session"), "exported"
        at = stamp.determined if stamp else None
        if session is None:
            session, how = _session_at(spans, at), "by time"
        found.append(
            _Reading(
                number=number,
                record=record,
                capture=record.text("capture"),
                session=session,
                session_how=how if session is not None else None,
                image_number=record.integer("image_number"),
                at=at,
            )
        )
    return found


def _order(record: Record) -> datetime:
    """Where a reading stands among others: an ambiguous time by its earlier instant, one of
    which nothing is known as if it were UTC.
    """
    stamp = record.stamp("time")
    if stamp is None:
        return datetime.max.replace(tzinfo=UTC)
    return stamp.instants[0] if stamp.instants else stamp.local.replace(tzinfo=UTC)


def _spans(sessions: Iterable[Record]) -> list[tuple[str, datetime, datetime]]:
    spans: list[tuple[str, datetime, datetime]] = []
    for session in sessions:
        start, end = _instant(session, "start"), _instant(session, "end")
        if start is not None and end is not None:
            spans.append((str(session.values.get("id")), start, end))
    return spans


def _instant(record: Record, name: str) -> datetime | None:
    stamp: Stamp | None = record.stamp(name)
    return stamp.determined if stamp and stamp.status is StampStatus.DETERMINED else None


def _session_at(spans: Sequence[tuple[str, datetime, datetime]], at: datetime | None) -> str | None:
    if at is None:
        return None
    inside = [name for name, start, end in spans if start <= at <= end]
    return inside[0] if len(inside) == 1 else None


class _Joiner:
    """Finds the readings of each still and clip."""

    def __init__(
        self, readings: Sequence[_Reading], spec: CaptureSpec | None, sessions: set[str]
    ) -> None:
        self._spec = spec
        self._sessions = sessions
        self._by_capture: dict[str, list[_Reading]] = {}
        self._by_stem: dict[str, list[_Reading]] = {}
        self._by_image: dict[int, list[_Reading]] = {}
        per_file = Counter(reading.record.source.path for reading in readings)
        for reading in readings:
            path = reading.record.source.path
            if reading.capture is not None:
                self._by_capture.setdefault(reading.capture, []).append(reading)
                self._by_stem.setdefault(_stem(reading.capture), []).append(reading)
            elif per_file[path] == 1:  # one file per capture: its name is what it is called
                self._by_stem.setdefault(_stem(path), []).append(reading)
            if reading.image_number is not None:
                self._by_image.setdefault(reading.image_number, []).append(reading)
        self._timed = sorted(
            ((one.at, one) for one in readings if one.at is not None),
            key=lambda pair: (pair[0], pair[1].number),
        )
        self._found: dict[int, dict[RecordKind, list[str]]] = {}

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
        for reading in wanted:
            self._found.setdefault(reading.number, {}).setdefault(picture.kind, []).append(path)
        numbers: list[JsonValue] = [reading.number for reading in wanted]
        values: Mapping[str, JsonValue] = {**picture.values, "joined": joined, "captures": numbers}
        return replace(picture, values=values)

    def capture(self, reading: _Reading) -> Record:
        """The capture of a reading, once everything has been joined."""
        found = self._found.get(reading.number, {})
        stills: list[JsonValue] = [*sorted(found.get(RecordKind.STILL, ()))]
        clips: list[JsonValue] = [*sorted(found.get(RecordKind.CLIP, ()))]
        values: dict[str, JsonValue] = {
            "number": reading.number,
            "stills": stills,
            "clips": clips,
        }
        if reading.capture is not None:
            values["capture"] = reading.capture
        if reading.session is not None:
            values["session"] = reading.session
            values["session_how"] = reading.session_how
        if found and self._spec is not None:
            values["how"] = HOW[self._spec.join]
        return Record(kind=RecordKind.CAPTURE, source=reading.record.source, values=values)

    def _is_of_session(self, picture: Record) -> bool:
        return picture.text("capture") is None and picture.text("session") in self._sessions

    def _wanted(self, picture: Record) -> list[_Reading] | None:
        """The readings of a still or clip, by number; None where nothing says how to find them."""
        if self._spec is None:
            return None
        if self._spec.join == "nearest-time":
            return self._nearest(picture)
        found = self._named(picture, by_file_name=self._spec.join == "file-name")
        session = picture.text("session")
        if found and session is not None:
            found = [one for one in found if one.session in (session, None)]
        return found

    def _named(self, picture: Record, *, by_file_name: bool) -> list[_Reading] | None:
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

    def _nearest(self, picture: Record) -> list[_Reading] | None:
        at = _instant(picture, "time")
        if at is None:
            if picture.kind is RecordKind.CLIP:
                return self._named(picture, by_file_name=False)
            return []
        bound = timedelta(seconds=(self._spec.within_s if self._spec else None) or 0)
        best: list[_Reading] = []
        least = bound
        start = bisect_left(self._timed, at - bound, key=lambda pair: pair[0])
        for when, reading in self._timed[start:]:
            distance = abs(when - at)
            if when - at > bound:
                break
            if distance < least or (not best and distance <= least):
                best, least = [reading], distance
            elif distance == least:
                best.append(reading)
        return best


def _stem(path: str) -> str:
    """The name of a file without folder and ending, case ignored."""
    name = path.replace("\\", "/").rpartition("/")[2]
    return (name.rpartition(".")[0] or name).casefold()
