"""Did the meter stand where the site is? Part of check 15.

Distance on a sphere of the Earth's mean radius (haversine), which is within 0.6 % of the distance on
the ellipsoid: far below what a receiver of a van is wrong by.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from evidpack.checks.day_parts import Session
from evidpack.checks.geometry import site_of
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.rules.rule_values import RuleValue

EARTH_M: Final = 6_371_008.8  # mean radius, IUGG, from memory
_WHO: Final = "The operator can say where the meter stood; the site file gives the site's position."


class Place(NamedTuple):
    """Degrees north and east."""

    latitude: float
    longitude: float

    @property
    def exists(self) -> bool:
        """Whether there is such a place."""
        return abs(self.latitude) <= 90 and abs(self.longitude) <= 180


def distance_m(one: Place, other: Place) -> float:
    """Great-circle distance, metres."""
    north, south = math.radians(one.latitude), math.radians(other.latitude)
    across = math.radians(other.longitude - one.longitude)
    half = math.sin((south - north) / 2) ** 2
    half += math.cos(north) * math.cos(south) * math.sin(across / 2) ** 2
    return 2 * EARTH_M * math.asin(math.sqrt(min(1.0, half)))


def place_of(record: Record | None) -> Place | None:
    """The position that a record states, or None."""
    if record is None:
        return None
    latitude, longitude = record.number("latitude_deg"), record.number("longitude_deg")
    return None if latitude is None or longitude is None else Place(latitude, longitude)


def stood_at_site(look: Look, say: Say) -> Iterator[Finding]:
    """Session by session, the stated positions of set-up and readings against the site's."""
    rule = look.rules.find("site_distance_limit")
    if rule is None:
        yield say.not_applicable(
            "positions", "The rule set does not ask how far the meter may stand from its site."
        )
        return
    silent = []
    for session in look.sessions:
        site = site_of(look, session)
        if site is None:
            continue  # site_authorised says so
        found = tuple(_session(look, say, rule, session, site))
        yield from found
        if not found:
            silent.append(session.id)
    if silent:
        yield say.missing(
            "positions",
            f"How far the meter stood from its site can't be told for {_sessions(silent)}: no "
            "position is on record for the site, or for neither set-up nor readings.",
            _WHO,
            needs="position",
            rule=rule,
            measured=len(silent),
        )


def _sessions(names: list[str]) -> str:
    return f"session {names[0]}" if len(names) == 1 else f"sessions {', '.join(names)}"


def _session(
    look: Look, say: Say, rule: RuleValue, session: Session, site: Record
) -> Iterator[Finding]:
    due = place_of(site)
    if due is None:
        return
    stood = place_of(session.record)
    if stood is not None:
        yield _judged(
            say,
            rule,
            session.subject,
            (f"In session {session.id} the meter", session.site),
            (stood, due),
        )
    near: list[tuple[float, int]] = []
    readings = look.readings_of(session)
    north, east = readings.column("latitude_deg"), readings.column("longitude_deg")
    if north is None or east is None:
        readings = readings.where(())
    for reading in readings:
        taken = place_of(reading.record)
        if taken is None:
            continue
        apart = distance_m(taken, due) if taken.exists and due.exists else math.inf
        if apart <= rule.metres:
            near.append((apart, reading.number))
            continue
        what = f"At capture {reading.number} the meter", session.site
        yield _judged(say, rule, f"capture {reading.number}", what, (taken, due))
    if near:
        yield say.passed(
            session.subject,
            f"At {captures(number for _, number in near)} the meter stood at most "
            f"{figure(max(near)[0], 1):g} m from site {session.site}.",
            measured=figure(max(near)[0], 1),
            rule=rule,
            limit=rule.metres,
            unit="m",
        )


def _judged(
    say: Say, rule: RuleValue, subject: str, what: tuple[str, str], places: tuple[Place, Place]
) -> Finding:
    """One position (first of `places`) against the site's (second)."""
    who, site = what
    if not all(place.exists for place in places):
        odd = next(place for place in places if not place.exists)
        return say.query(
            subject,
            f"A position of {odd.latitude:g}, {odd.longitude:g} degrees is stated beside site "
            f"{site}, and there is no such place.",
            "Whoever typed or exported it can say how it is to be read.",
            measured=[odd.latitude, odd.longitude],
            limit="90 degrees north or south, 180 east or west",
            source="geography",
        )
    apart = figure(distance_m(*places), 1)
    sentence = f"{who} stood {apart:g} m from site {site}"
    if apart <= rule.metres:
        return say.passed(
            subject, f"{sentence}.", measured=apart, rule=rule, limit=rule.metres, unit="m"
        )
    return say.failed(
        subject,
        f"{sentence}, more than {rule.metres:g} m.",
        _WHO,
        measured=apart,
        rule=rule,
        limit=rule.metres,
        unit="m",
    )


def nearest_site(look: Look, session: Session) -> tuple[Record, float] | None:
    """The site record nearest to where a session was set up, with the distance in metres."""
    stood = place_of(session.record)
    if stood is None or not stood.exists:
        return None
    near = [
        (distance_m(stood, place), record.text("id") or "", record)
        for record in look.day.of(RecordKind.SITE)
        if (place := place_of(record)) is not None and place.exists
    ]
    if not near:
        return None
    apart, _, record = min(near, key=lambda one: one[:2])
    return record, apart
