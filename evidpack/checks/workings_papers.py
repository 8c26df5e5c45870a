"""The numbers behind the checks of papers, people and places, for `explain`."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.certificate_contents import last_date, tolerance_of
from evidpack.checks.certificate_lookup import (
    calibrations_of,
    certificates,
    device_of,
    last_day_covered,
    meters_used,
    plain,
)
from evidpack.checks.deadlines import cases
from evidpack.checks.geometry import site_of
from evidpack.checks.look import Look
from evidpack.checks.operators import operators_of
from evidpack.checks.position import distance_m, place_of
from evidpack.checks.times import read_date
from evidpack.model.records import Record


def serials(look: Look) -> Iterator[str]:
    """Check 1: what is compared, as it stands and as it is compared."""
    for meter in meters_used(look):
        device = device_of(look, meter)
        for word, record in (
            ("meter", device),
            *((f"certificate {one.text('number')}", one) for one in calibrations_of(look, meter)),
        ):
            if record is None:
                yield f"meter {meter}: no record of it"
                continue
            stated = ", ".join(
                f"{name} {value} ({plain(value)})"
                for name in ("serial", "type", "firmware")
                if (value := record.text(name)) is not None
            )
            yield f"{word}: {stated} [{record.source}]"


def people(look: Look) -> Iterator[str]:
    """Check 3: who is declared, and which certificates they hold."""
    for session in look.sessions:
        for person in operators_of(session):
            name, role = str(person.get("id", "")), str(person.get("role", "operator"))
            yield f"session {session.id}: {name}, {role} [{session.record.source}]"
            for record in certificates(look, "operator"):
                if plain(record.text("holder") or "") == plain(name):
                    yield (
                        f"  certificate {record.text('number')}: type {record.text('type')}, "
                        f"{record.values.get('valid_from') or record.values.get('issued')} to "
                        f"{record.values.get('valid_until') or 'no stated end'} [{record.source}]"
                    )


def calibrations(look: Look) -> Iterator[str]:
    """Check 2: from when to when each calibration covers."""
    for meter in meters_used(look):
        for certificate in calibrations_of(look, meter):
            yield (
                f"meter {meter}: certificate {certificate.text('number')} calibrated "
                f"{certificate.values.get('calibrated')}, last day covered "
                f"{last_day_covered(look, certificate)} [{certificate.source}]"
            )
    for session in look.sessions:
        if session.dates is not None:
            yield f"session {session.id}: {session.dates[0]} to {session.dates[1]}"


def tolerances(look: Look) -> Iterator[str]:
    """Check 2b: the four-way decision of each calibration up to the day."""
    yield from _decisions(look, later=False)


def later_tolerances(look: Look) -> Iterator[str]:
    """Check 2c: the same for calibrations after the day."""
    yield from _decisions(look, later=True)


def _decisions(look: Look, *, later: bool) -> Iterator[str]:
    for meter in meters_used(look):
        for certificate in calibrations_of(look, meter):
            if _is_later(look, certificate) is not later:
                continue
            for name in ("speed_error", "speed_error_found"):
                found = tolerance_of(look, certificate, name)
                if found is not None:
                    yield (
                        f"certificate {certificate.text('number')}, {name}: e = {found.error:+g}, "
                        f"U = {found.uncertainty:g}, w = {found.guard:g} {found.unit}; upper: "
                        f"TH − w = {found.high - found.guard:g}, TH = {found.high:g}, TH + w = "
                        f"{found.high + found.guard:g}; lower: TL + w = {found.low + found.guard:g}, "
                        f"TL = {found.low:g}, TL − w = {found.low - found.guard:g}: "
                        f"{found.decision.words} [{certificate.source}]"
                    )


def _is_later(look: Look, certificate: Record) -> bool:
    calibrated = read_date(certificate.values.get("calibrated"))
    return calibrated is not None and calibrated > last_date(look)


def positions(look: Look) -> Iterator[str]:
    """Check 15: how far set-up and readings were from the site."""
    for session in look.sessions:
        site = site_of(look, session)
        due = place_of(site)
        if site is None or due is None:
            continue
        yield f"site {session.site}: {due.latitude:g}, {due.longitude:g} degrees [{site.source}]"
        stood = place_of(session.record)
        if stood is not None:
            yield (
                f"session {session.id}: {stood.latitude:g}, {stood.longitude:g} degrees, "
                f"{distance_m(stood, due):.1f} m away [{session.record.source}]"
            )
        for reading in look.by_session.get(session.id, ()):
            taken = place_of(reading.record)
            if taken is not None:
                yield (
                    f"capture {reading.number}: {taken.latitude:g}, {taken.longitude:g} degrees, "
                    f"{distance_m(taken, due):.1f} m away [{reading.record.source}]"
                )


def events(look: Look) -> Iterator[str]:
    """Check 20: the events of each case."""
    for case in cases(look):
        events = ", ".join(f"{name} {day}" for name, day in sorted(case.events.items()))
        yield f"{case.subject}: offence {case.offence}; {events or 'no events on record'}"
