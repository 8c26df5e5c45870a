"""What the geometry of the site does to a reading, and whether successive ranges fit. Check 14.

A laser meter measures the rate of change of the slant range.  With lateral offset x, height y and
slant range R it indicates v·√(1 − (x² + y²)/R²): less than the speed along the road.  The factor
is shown and never added back.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.day_readings import Readings
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

COSINE: Final = "geometry: √(1 − (x² + y²)/R²)"
_REVIEWER: Final = "A reviewer can look at both stills and say whether they show one vehicle."


def cosine_factor(offset_m: float, height_m: float, range_m: float) -> float | None:
    """Indicated speed as a share of the speed along the road; None where the meter would be
    further from the line of travel than the range says.
    """
    away = offset_m * offset_m + height_m * height_m
    if range_m <= 0 or away >= range_m * range_m:
        return None
    return math.sqrt(1 - away / (range_m * range_m))


def reachable_m(
    first_mps: float, second_mps: float, interval_s: float, acceleration: float
) -> tuple[float, float] | None:
    """The shortest and longest way from one speed to another in a time, never reversing, with at
    most this acceleration (m/s²) either way; None where the change of speed alone is too much.
    """
    change = acceleration * interval_s
    if abs(second_mps - first_mps) > change:
        return None
    squares = first_mps * first_mps + second_mps * second_mps
    slowest = max(0.0, (first_mps + second_mps - change) / 2)
    fastest = (first_mps + second_mps + change) / 2
    shortest = (squares - 2 * slowest * slowest) / (2 * acceleration)
    longest = (2 * fastest * fastest - squares) / (2 * acceleration)
    return shortest, longest


def site_of(look: Look, session: Session | None) -> Record | None:
    """The site record of a session, or None."""
    if session is None:
        return None
    for record in look.day.of(RecordKind.SITE):
        if plain(record.text("id") or "") == plain(session.site):
            return record
    return None


def geometry(look: Look, say: Say) -> Iterator[Finding]:
    """Check 14: cosine factor shown, successive readings of one vehicle plausible."""
    for session in look.sessions:
        yield from _cosine(look, say, session)
    yield from _chains(look, say)


def _cosine(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    site = site_of(look, session)
    offset = site.length("offset") if site is not None else None
    height = site.length("height") if site is not None else None
    readings = look.readings_of(session)
    ranges = [range_m for range_m in readings.ranges_m if range_m is not None]
    if not ranges:
        return
    if offset is None:
        yield say.missing(
            session.subject,
            f"The lateral offset of the meter at site {session.site} is not on record, so the "
            "cosine factor can't be shown.",
            "The operator or the site record can supply offset and height.",
            needs="site_geometry",
        )
        return
    x, y = offset.metres, height.metres if height is not None else 0.0
    # The factor grows with the range, so that the ends of the ranges have the ends of the factors.
    known = {range_m: cosine_factor(x, y, range_m) for range_m in set(ranges)}
    if None in known.values():
        yield from _too_near(say, readings, known, (x, y))
    factors = [factor for factor in known.values() if factor is not None]
    if factors:
        yield _shown(say, session, (x, y), factors)


def _too_near(
    say: Say,
    readings: Readings,
    factors: Mapping[float, float | None],
    place: tuple[float, float],
) -> Iterator[Finding]:
    """Readings that were measured from nearer than the meter can have stood."""
    x, y = place
    for reading in readings:
        if reading.range_m is None or factors[reading.range_m] is not None:
            continue
        if reading.range_m <= 0:
            continue  # check 10 says that it is outside the window
        yield say.query(
            f"capture {reading.number}",
            f"Capture {reading.number} was measured at {reading.range_m:g} m, nearer than the site's "
            f"offset of {x:g} m and height of {y:g} m allow.",
            "The operator can say where the meter stood.",
            measured=figure(reading.range_m or 0.0, 3),
            limit=figure(math.hypot(x, y), 3),
            unit="m",
            source=COSINE,
        )


def _shown(
    say: Say, session: Session, place: tuple[float, float], factors: Sequence[float]
) -> Finding:
    x, y = place
    return say.passed(
        session.subject,
        f"At site {session.site} (offset {x:g} m, height {y:g} m) the meter indicates "
        f"{figure(100 * (1 - max(factors)), 3):g} to {figure(100 * (1 - min(factors)), 3):g} % "
        "less than the speed along the road, in the driver's favour; nothing is added back.",
        measured=[figure(min(factors), 6), figure(max(factors), 6)],
        unit="indicated / actual",
        source=COSINE,
    )


def _chains(look: Look, say: Say) -> Iterator[Finding]:
    good: list[int] = []
    for first, second, interval, step in pairs_of_one_vehicle(look):
        finding = _chain(look, say, (first, second), interval, step)
        if finding is None:
            good += [first.number, second.number]
        else:
            yield finding
    if good:
        yield say.passed(
            captures(good),
            f"Successive readings of one vehicle fit each other in range and time: {captures(good)}.",
            measured=len(set(good)),
            rule=look.rules.value("range_chain_acceleration"),
        )


def pairs_of_one_vehicle(look: Look) -> Iterator[tuple[Reading, Reading, float, float]]:
    """Successive readings of one vehicle on one clock within the rule set's window, with the seconds
    between them and the step of the clock.
    """
    window_s = look.rules.value("range_chain_window").number
    for group in _same_vehicle(look):
        timed = [one for one in group if one.number in look.placements and one.range_m is not None]
        timed.sort(key=lambda one: (look.placements[one.number].raw_s, one.number))
        for first, second in pairwise(timed):
            places = look.placements[first.number], look.placements[second.number]
            interval = places[1].raw_s - places[0].raw_s
            if places[0].clock == places[1].clock and 0 < interval <= window_s:
                yield first, second, interval, places[0].resolution_s


def _same_vehicle(look: Look) -> Iterator[Sequence[Reading]]:
    """Readings said to be of one vehicle: by the mark noted, or by a reviewer."""
    groups: dict[str, set[int]] = {}
    first: dict[str, int] = {}
    plates = look.readings.column("plate") or ()
    for plate, number in zip(plates, look.readings.numbers, strict=False):
        if isinstance(plate, str):
            name = plain(plate)
            if name in first:
                groups.setdefault(f"plate {name}", {first[name]}).add(number)
            else:
                first[name] = number
    for record in look.day.of(RecordKind.REVIEW):
        other = record.text("same_vehicle_as")
        if other is None:
            continue
        pair = {
            one.number
            for name in (other, record.text("capture") or "")
            for one in look.identified(name)
        }
        groups.setdefault(f"review {sorted(pair)}", set()).update(pair)
    seen: set[frozenset[int]] = set()
    for _, members in sorted(groups.items()):
        if len(members) > 1 and frozenset(members) not in seen:
            seen.add(frozenset(members))
            yield [*look.readings.with_numbers(members)]


def _chain(
    look: Look, say: Say, pair: tuple[Reading, Reading], interval_s: float, step_s: float
) -> Finding | None:
    first, second = pair
    rule = look.rules.value("range_chain_acceleration")
    speeds = [(one.speed or 0.0) * UNIT_MPS.get(one.speed_unit, 1.0) for one in pair]
    change = (first.range_m or 0.0) - (second.range_m or 0.0)
    way = -change if first.record.text("direction") == "receding" else change
    if first.record.text("direction") is None:
        way = abs(change)
    room = look.rules.value("range_chain_length").metres
    spans = [
        reachable_m(speeds[0], speeds[1], time, rule.number)
        for time in (max(interval_s - step_s, 1e-3), interval_s, interval_s + step_s)
    ]
    found = [span for span in spans if span is not None]
    if found and min(a for a, _ in found) - room <= way <= max(b for _, b in found) + room:
        return None
    unit = first.speed_unit
    average = way / interval_s / UNIT_MPS.get(unit, 1.0)
    span = None
    if found:
        span = f"{figure(min(a for a, _ in found), 1)} to {figure(max(b for _, b in found), 1)} m"
    return say.query(
        captures([first.number, second.number]),
        f"Captures {first.number} and {second.number} are said to be one vehicle: "
        f"{first.speed:g} {unit} at {first.range_m:g} m, then {second.speed:g} {second.speed_unit} at "
        f"{second.range_m:g} m {interval_s:g} s later, {figure(abs(way), 1):g} m at "
        f"{figure(average, 1):g} {unit} on average, which no vehicle could drive"
        f"{f' ({span} would be possible)' if span else ''}.",
        _REVIEWER,
        measured=figure(average, 1),
        limit=span,
        unit=unit,
        source=rule.cite,
    )
