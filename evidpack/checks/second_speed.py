"""A second speed from two timed stills. Check 12."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from evidpack.checks.certificate_lookup import calibration_for
from evidpack.checks.day_parts import Reading
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_REVIEWER: Final = (
    "The reviewer can measure again and state the uncertainties of distance and time."
)
SOURCE: Final = "JCGM 100:2008 (GUM) 5.1.2 and 6.3.3, from memory; agreement is |Δ| ≤ √(U₁² + U₂²)"


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondSpeed:
    """A speed from a distance and a time, metres per second, with its expanded uncertainty."""

    speed_mps: float
    expanded_mps: float


def second_speed(
    distance_m: float,
    interval_s: float,
    distance_sd_m: float,
    interval_sd_s: float,
    coverage: float,
) -> SecondSpeed:
    """V = d/t with (u(v)/v)² = (u(d)/d)² + (u(t)/t)² and U = k·u(v).

    Standard uncertainties in metres and seconds. Raises ValueError unless distance and interval
    are positive.
    """
    if not (distance_m > 0 and interval_s > 0):
        raise ValueError("distance and interval are positive")
    speed = distance_m / interval_s
    relative = math.hypot(distance_sd_m / distance_m, interval_sd_s / interval_s)
    return SecondSpeed(speed_mps=speed, expanded_mps=coverage * speed * relative)


def second_speed_check(look: Look, say: Say) -> Iterator[Finding]:
    """Check 12: the speed from marks in two timed stills against the reading, with uncertainty."""
    marks: dict[int, list[Record]] = {}
    for record in look.day.of(RecordKind.MARK):
        for reading in look.identified(record.text("capture")):
            marks.setdefault(reading.number, []).append(record)
    without = look.readings.without_numbers(marks)
    if without:
        yield say.missing(
            captures(without),
            f"No distances in two timed stills are on record for {captures(without)}.",
            "A reviewer can measure them where the stills show marks.",
            needs="two_timed_stills",
            measured=len(without),
        )
    for reading in look.readings.with_numbers(marks):
        for record in sorted(marks[reading.number], key=lambda one: one.source.order):
            finding = _compare(look, say, reading, record)
            if finding is not None:
                yield finding


def _compare(look: Look, say: Say, reading: Reading, mark: Record) -> Finding | None:
    subject = f"capture {reading.number}"
    interval, distance = mark.number("interval_s"), mark.length("distance")
    if interval == 0 and (distance is None or distance.metres == 0):
        return None  # the first still: nothing travelled yet
    if interval is None or distance is None:
        return say.missing(
            subject,
            f"The marks of capture {reading.number} lack a distance or an interval.",
            _REVIEWER,
            needs="two_timed_stills",
        )
    if interval <= 0 or distance.metres <= 0:
        return say.query(
            subject,
            f"The marks of capture {reading.number} give {distance} in {interval:g} s, which is no "
            "speed.",
            _REVIEWER,
            measured=interval,
            source=SOURCE,
        )
    wide, width_s = mark.length("distance_uncertainty"), mark.number("interval_uncertainty_s")
    if wide is None or width_s is None:
        return say.missing(
            subject,
            f"The marks of capture {reading.number} state no uncertainty of distance or interval.",
            _REVIEWER,
            needs="two_timed_stills",
        )
    if wide.metres < 0 or width_s < 0:
        return say.query(
            subject,
            f"The marks of capture {reading.number} state an uncertainty below 0: {wide} and "
            f"{width_s:g} s.",
            _REVIEWER,
            measured=min(wide.metres, width_s),
            limit=0,
            source=SOURCE,
        )
    coverage = look.rules.value("second_speed_coverage").number
    second = second_speed(distance.metres, interval, wide.metres, width_s, coverage)
    return _judge(look, say, reading, second)


def reading_uncertainty_mps(look: Look, reading: Reading) -> float | None:
    """Expanded uncertainty (k = 2) of a reading: that of the calibration certificate, else the
    rule set's; None where neither states one.
    """
    session = next((one for one in look.sessions if one.id == reading.session), None)
    if session is not None and session.dates is not None:
        certificate = calibration_for(look, session.meter, session.dates[0])
        stated = certificate.speed("speed_uncertainty") if certificate is not None else None
        if stated is not None:
            return abs(stated.mps)
    rule = look.rules.find("reading_uncertainty")
    return None if rule is None else rule.mps


def _judge(look: Look, say: Say, reading: Reading, second: SecondSpeed) -> Finding | None:
    subject = f"capture {reading.number}"
    if reading.speed is None:
        return None
    factor = UNIT_MPS[reading.speed_unit]
    unit = reading.speed_unit
    speed, expanded = second.speed_mps / factor, second.expanded_mps / factor
    own_mps = reading_uncertainty_mps(look, reading)
    sentence = (
        f"Two timed stills of capture {reading.number} give {figure(speed)} ± {figure(expanded)} "
        f"{unit} against the reading of {reading.speed:g} {unit}"
    )
    if own_mps is None:
        return say.missing(
            subject,
            f"{sentence}, whose uncertainty is not known.",
            "The laboratory can supply the uncertainty of the meter.",
            needs="reading_uncertainty",
            measured=figure(speed),
        )
    return _agree(say, reading, (speed, expanded, own_mps / factor), sentence)


def _agree(
    say: Say, reading: Reading, second: tuple[float, float, float], sentence: str
) -> Finding:
    """The second speed with its U, and the U of the reading, all in the reading's unit."""
    speed, expanded, own = second
    shown = reading.speed or 0.0
    unit = reading.speed_unit
    apart = abs(speed - shown)
    allowed = math.hypot(expanded, own)
    subject = f"capture {reading.number}"
    measured, limit = figure(speed), f"{shown:g} ± {figure(allowed)}"
    if apart <= allowed:
        words = f"{sentence}: they agree."
        return say.passed(subject, words, measured=measured, limit=limit, unit=unit, source=SOURCE)
    speak = say.query if apart <= expanded + own else say.failed
    return speak(
        subject,
        f"{sentence}: they are {figure(apart)} {unit} apart, where {figure(allowed)} is allowed.",
        _REVIEWER,
        measured=measured,
        limit=limit,
        unit=unit,
        source=SOURCE,
    )
