"""Does the data strip of a still agree with the record? The first half of check 11."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Final

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Reading
from evidpack.checks.displays import UNIT_MPS, finest_step
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.checks.times import Moment, clock_text, read_moment, stamp_text
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.units import Length, Speed

FIELDS: Final = ("speed", "range", "time", "site")
SOURCE: Final = "French order of 4 June 2009: image data repeats the display exactly"
_ADVICE: Final = (
    "The workshop can say how the strip is made; the operator whether it was typed rightly."
)


class _Steps:
    """The coarser step of strip and log: speeds in metres per second, ranges in metres."""

    def __init__(self, look: Look) -> None:
        strips = look.day.of(RecordKind.DATA_STRIP)
        speeds = [speed for strip in strips if (speed := strip.speed("speed"))]
        shown: Mapping[str, float] = {
            unit: finest_step(float(one.value) for one in speeds if one.unit == unit)
            for unit in {one.unit for one in speeds}
        }
        self._speeds: tuple[Mapping[str, float], ...] = (shown, look.speed_steps)
        self._ranges = (_length_steps(strips), look.range_steps)

    def speed_mps(self, shown: Speed, recorded: Speed) -> float:
        """The coarser step of two speeds."""
        pairs = zip((shown, recorded), self._speeds, strict=True)
        return max(steps.get(one.unit, 1.0) * UNIT_MPS[one.unit] for one, steps in pairs)

    def range_m(self, shown: Length, recorded: Length) -> float:
        """The coarser step of two ranges."""
        pairs = zip((shown, recorded), self._ranges, strict=True)
        return max(steps.get(one.unit, 1.0) * _UNIT_M[one.unit] for one, steps in pairs)


_UNIT_M: Final = {"m": 1.0, "ft": 0.3048}


def _length_steps(records: Iterable[Record]) -> dict[str, float]:
    found: dict[str, set[float]] = {}
    for record in records:
        length = record.length("range")
        if length is not None:
            found.setdefault(length.unit, set()).add(float(length.value))
    return {unit: finest_step(values) for unit, values in found.items()}


def strips_agree(look: Look, say: Say) -> Iterator[Finding]:
    """Speed, range, time and site of each strip equal the record to the coarser display step."""
    strips = strips_by_still(look)
    steps = _Steps(look) if strips else None
    agreed: list[int] = []
    bare: list[int] = []
    partly: dict[str, list[int]] = {}
    for reading in look.readings.with_numbers(look.stills_of_captures):
        stills = look.stills_of_captures.get(reading.number, ())
        found = [
            strip
            for still in stills
            for strip in strips.get((still.text("path") or "").rpartition("/")[2], ())
        ]
        if stills and not found:
            bare.append(reading.number)
        if not found or steps is None:
            continue
        wrong = [one for strip in found for one in _differences(look, reading, strip, steps)]
        for field, shown, recorded, words in wrong:
            yield say.failed(
                f"capture {reading.number}",
                f"The data strip of capture {reading.number} shows {field} {shown}, the record "
                f"{recorded}{words}.",
                _ADVICE,
                measured=shown,
                limit=recorded,
                source=SOURCE,
            )
        silent = [name for name in FIELDS if not all(_states(strip, name) for strip in found)]
        for name in silent:
            partly.setdefault(name, []).append(reading.number)
        if not wrong and len(silent) < len(FIELDS):
            agreed.append(reading.number)
    yield from _summed(say, bare, partly, agreed)


def _states(strip: Record, name: str) -> bool:
    return any(key == name or key.startswith(f"{name}_") for key in strip.values)


def _summed(
    say: Say, bare: list[int], partly: Mapping[str, list[int]], agreed: list[int]
) -> Iterator[Finding]:
    for name, numbers in partly.items():
        yield say.missing(
            captures(numbers),
            f"The {name} in the data strip is not on record for {captures(numbers)}, so it can't be "
            "compared.",
            "A named reviewer can type the strip's fields; the meter may export them.",
            needs="data_strip",
            measured=len(numbers),
        )
    if bare:
        yield say.missing(
            captures(bare),
            f"The data strip of the stills of {captures(bare)} is not on record.",
            "A named reviewer can type the strip's fields; the meter may export them.",
            needs="data_strip",
            measured=len(bare),
        )
    if agreed:
        yield say.passed(
            captures(agreed),
            f"What is on record of the data strips of {captures(agreed)} agrees with their readings.",
            measured=len(agreed),
            source=SOURCE,
        )


def strips_by_still(look: Look) -> Mapping[str, list[Record]]:
    """Strip records by the file name of the still."""
    found: dict[str, list[Record]] = {}
    for record in look.day.of(RecordKind.DATA_STRIP):
        name = (record.text("still") or "").rpartition("/")[2]
        found.setdefault(name, []).append(record)
    return found


_Difference = tuple[str, str, str, str]  # field, as in strip, as in record, words on both


def _differences(
    look: Look, reading: Reading, strip: Record, steps: _Steps
) -> Iterator[_Difference]:
    speeds = strip.speed("speed"), reading.record.speed("speed")
    if (
        speeds[0]
        and speeds[1]
        and not _within(speeds[0].mps - speeds[1].mps, steps.speed_mps(speeds[0], speeds[1]))
    ):
        yield "speed", str(speeds[0]), str(speeds[1]), ""
    ranges = strip.length("range"), reading.record.length("range")
    if (
        ranges[0]
        and ranges[1]
        and not _within(ranges[0].metres - ranges[1].metres, steps.range_m(ranges[0], ranges[1]))
    ):
        yield "range", str(ranges[0]), str(ranges[1]), ""
    yield from _times(reading, strip)
    yield from _sites(look, reading, strip)


def _within(apart: float, step: float) -> bool:
    """Less than one step: with equal steps that means equal, as shown."""
    return round(abs(apart), 9) < round(step, 9)


def _times(reading: Reading, strip: Record) -> Iterator[_Difference]:
    shown, recorded = read_moment(strip.values.get("time")), reading.moment
    if shown is None or recorded is None:
        return
    if shown.at_s is not None and recorded.at_s is not None:
        apart = min(abs(one - other) for one in _instants(shown) for other in _instants(recorded))
    else:
        apart = abs((shown.local - recorded.local).total_seconds())
    if not _within(apart, max(_second_step(shown), _second_step(recorded))):
        text = clock_text if shown.local.date() == recorded.local.date() else stamp_text
        yield "time", text(shown), text(recorded), f", {figure(apart):g} s apart"


def _instants(moment: Moment) -> tuple[float, ...]:
    """The instants that a stamp may mean: two in the hour that occurs twice."""
    at, half = moment.at_s or 0.0, moment.half_width_s
    return (at - half, at + half) if half else (at,)


def _second_step(moment: Moment) -> float:
    stamp = datetime.fromisoformat(moment.text)
    return 1.0 if not stamp.microsecond else 10.0 ** -len(f"{stamp.microsecond:06d}".rstrip("0"))


def _sites(look: Look, reading: Reading, strip: Record) -> Iterator[_Difference]:
    shown = strip.text("site")
    session = next((one for one in look.sessions if one.id == reading.session), None)
    if shown is None or session is None:
        return
    known = {session.site}
    known |= {
        record.text("name") or ""
        for record in look.day.of(RecordKind.SITE)
        if record.text("id") == session.site
    }
    if plain(shown) not in {plain(name) for name in known}:
        yield "site", shown, session.site, ""
