"""Is each reading within the limits of the meter, and does its pulse train agree? Check 10."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, cast

from evidpack.checks.approvals import Window, approval_in_force, window_for
from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.day_readings import Readings, all_between
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.look import Look
from evidpack.checks.pulse_judge import Apart, PulseJudge
from evidpack.checks.regression import PulseFitter
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.findings import Finding
from evidpack.model.values import JsonValue
from evidpack.rules.quantities import exact_speed

_MAKER: Final = "The workshop or the maker can say whether such a reading is valid."


@dataclass(slots=True)
class _Pulses:
    """What the pulse trains of a session say, by capture number."""

    absent: list[int] = field(default_factory=list)
    agree: list[int] = field(default_factory=list)


def reading_within_limits(look: Look, say: Say) -> Iterator[Finding]:
    """Check 10: range and speed inside the window, pulse ranges agree with the speed shown."""
    if not look.readings:
        yield say.not_applicable("day", "There are no readings on this day.")
    known = {session.id: session for session in look.sessions}
    fitter = PulseFitter(look.rules.value("sawtooth_step").metres)
    for name in sorted(look.by_session, key=str):
        group = look.by_session[name]
        session = known.get(name) if name is not None else None
        subject = f"session {name}" if name is not None else "readings without a session"
        if session is not None:
            yield from approval_in_force(look, say, session)
        yield from _ranges(look, say, group, session, subject)
        yield from _speeds(look, say, group, session, subject)
        yield from _pulses(look, say, group, fitter, subject)


def _ranges(
    look: Look, say: Say, group: Readings, session: Session | None, subject: str
) -> Iterator[Finding]:
    window = window_for(look, session)
    low, high = round(window.range_min_m, 9), round(window.range_max_m, 9)
    absent, inside = [], 0
    limit = f"{low:g} to {high:g}"
    ranges = group.ranges_m
    if all_between(ranges, low, high):
        ranges, inside = (), len(ranges)
    for number, measured in zip(group.numbers, ranges, strict=False):
        if measured is None:
            absent.append(number)
        elif low <= measured <= high or low <= round(measured, 9) <= high:
            inside += 1
        else:
            yield say.failed(
                f"capture {number}",
                f"Capture {number} was measured at {figure(measured, 3):g} m, outside {limit} m.",
                _MAKER,
                measured=figure(measured, 3),
                limit=limit,
                unit="m",
                source=window.range_source,
            )
    yield from _ranges_summed(say, subject, absent, (inside, len(group)), window)


def _ranges_summed(
    say: Say, subject: str, absent: list[int], inside: tuple[int, int], window: Window
) -> Iterator[Finding]:
    """Readings without a range, and how many of all are inside the window."""
    limit = f"{round(window.range_min_m, 9):g} to {round(window.range_max_m, 9):g}"
    if absent:
        yield say.missing(
            subject,
            f"The range is not on record for {captures(absent)}.",
            "The operator or the meter's own log can supply it.",
            needs="range",
            measured=len(absent),
            limit=limit,
            unit="m",
        )
    if inside[0]:
        yield say.passed(
            subject,
            f"{inside[0]} of {inside[1]} readings of {subject} were measured within {limit} m.",
            measured=inside[0],
            limit=limit,
            unit="m",
            source=window.range_source,
        )


def _speeds(
    look: Look, say: Say, group: Readings, session: Session | None, subject: str
) -> Iterator[Finding]:
    window = window_for(look, session)
    low = window.speed_min.mps if window.speed_min else 0.0
    high = window.speed_max.mps if window.speed_max else None
    limit = (
        f"{window.speed_min or '0'} to {window.speed_max or 'no upper limit stated'}"  # with units
    )
    source = window.speed_source or "a speed is not negative"
    absent = []
    speeds, units = group.speeds, group.speed_units
    if units and units.count(units[0]) == len(units) and units[0]:
        factor = UNIT_MPS[units[0]]
        if all_between(speeds, low / factor, math.inf if high is None else high / factor):
            speeds = ()
    for number, speed, unit in zip(group.numbers, speeds, units, strict=False):
        if speed is None:
            absent.append(number)
            continue
        mps = speed * UNIT_MPS[unit]
        if mps < low - 1e-9 or (high is not None and mps > high + 1e-9):
            shown = exact_speed(speed, unit)
            yield say.failed(
                f"capture {number}",
                f"Capture {number} shows {shown}, outside {limit}.",
                _MAKER,
                measured=str(shown),
                limit=limit,
                source=source,
            )
    if absent:
        yield say.query(
            subject,
            f"The speed is not on record for {captures(absent)}.",
            "The operator or the meter's own log can supply it.",
            measured=len(absent),
            limit=0,
            source="a reading has a speed",
        )


def _pulses(
    look: Look, say: Say, group: Readings, fitter: PulseFitter, subject: str
) -> Iterator[Finding]:
    found = _Pulses()
    if group.column("pulse_times_s") is None and group.column("pulse_ranges_m") is None:
        found.absent.extend(group.numbers)
    else:
        yield from _trains(look, say, group, fitter, found)
    if found.absent:
        yield say.missing(
            subject,
            f"Pulse ranges are not on record for {captures(found.absent)}, so the speed shown "
            "can't be computed again.",
            "The maker can say whether the meter can export them.",
            needs="pulse_ranges",
            measured=len(found.absent),
        )
    if found.agree:
        yield say.passed(
            subject,
            f"The slope of the pulse ranges agrees with the speed shown for "
            f"{captures(found.agree)}.",
            measured=len(found.agree),
            rule=look.rules.value("pulse_coverage"),
        )


def _trains(
    look: Look, say: Say, group: Readings, fitter: PulseFitter, found: _Pulses
) -> Iterator[Finding]:
    """What is wrong with the pulse trains; what is right or absent is noted in `found`."""
    judge = PulseJudge(look)
    apart: list[Apart] = []
    none = [None] * len(group)
    times, ranges = group.column("pulse_times_s"), group.column("pulse_ranges_m")
    for place, (times_s, ranges_m) in enumerate(zip(times or none, ranges or none, strict=True)):
        if times_s is None and ranges_m is None:
            found.absent.append(group.numbers[place])
            continue
        reading = group[place]
        train = fitter.fit(_numbers(times_s), _numbers(ranges_m))
        away = judge.apart(reading, train)
        if away is not None:
            apart.append(away)
            continue
        fault = judge.fault(say, reading, train)
        if fault is None:
            found.agree.append(reading.number)
        else:
            yield fault
    yield from judge.told_apart(say, apart)


def pulse_series(reading: Reading) -> tuple[Sequence[float], Sequence[float]]:
    """Pulse times in seconds and ranges in metres, as intake wrote them: lists of numbers, not
    copied; empty where absent.
    """
    values = reading.record.values
    return _numbers(values.get("pulse_times_s")), _numbers(values.get("pulse_ranges_m"))


def _numbers(series: JsonValue) -> Sequence[float]:
    """A series as intake wrote it, without copying: a list of JSON numbers."""
    return cast("Sequence[float]", series) if isinstance(series, list) else ()
