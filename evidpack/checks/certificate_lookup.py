"""Finding the certificates that concern a meter, and what they cover."""

from __future__ import annotations

from datetime import date
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.times import add_months, read_date
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record

SERIAL_SOURCE: Final = "common practice, no source: case, spaces and hyphens ignored, zeros never"
_IGNORED: Final = str.maketrans("", "", " \t\u00a0-\u2010\u2011\u2012\u2013")


def plain(text: str) -> str:
    """A serial or designation without case, spaces and hyphens; zeros stay."""
    return text.casefold().translate(_IGNORED)


def meters_used(look: Look) -> tuple[str, ...]:
    """Serials of the meters that the sessions name, in order."""
    return tuple(sorted({session.meter for session in look.sessions if session.meter}))


def certificates(look: Look, kind: str) -> tuple[Record, ...]:
    """Certificates of one kind (calibration, operator, approval)."""
    return tuple(
        record
        for record in look.day.of(RecordKind.CERTIFICATE)
        if record.text("certificate") == kind
    )


def calibrations_of_others(look: Look) -> tuple[Record, ...]:
    """Calibration certificates for none of the meters that the sessions name."""
    used = {plain(meter) for meter in meters_used(look)}
    return tuple(
        record
        for record in certificates(look, "calibration")
        if plain(record.text("serial") or "") not in used
    )


def calibrations_of(look: Look, meter: str) -> tuple[Record, ...]:
    """Calibration certificates whose serial is this meter's, the oldest first."""
    wanted = plain(meter)
    found = [
        record
        for record in certificates(look, "calibration")
        if plain(record.text("serial") or "") == wanted
    ]
    return tuple(sorted(found, key=_calibrated_and_number))


def _calibrated_and_number(record: Record) -> tuple[str, str]:
    return str(record.values.get("calibrated", "")), record.text("number") or ""


def calibration_for(look: Look, meter: str, day: date) -> Record | None:
    """The latest calibration of a meter on or before a day; the newest of all where none is."""
    found = calibrations_of(look, meter)
    before = [
        record
        for record in found
        if (calibrated := read_date(record.values.get("calibrated"))) and calibrated <= day
    ]
    if before:
        return before[-1]
    return found[-1] if found else None


def impossible(certificate: Record) -> list[str]:
    """What can't be true on a calibration certificate, in words: dates out of order, a tolerance
    turned round, an uncertainty below 0.
    """
    found = []
    dates = {name: read_date(certificate.values.get(name)) for name in _DATES}
    calibrated, issued, until = (dates[name] for name in _DATES)
    if calibrated is not None and issued is not None and issued < calibrated:
        found.append(f"issued on {issued}, before the calibration of {calibrated}")
    if calibrated is not None and until is not None and until < calibrated:
        found.append(f"valid until {until}, before the calibration of {calibrated}")
    low, high = certificate.speed("tolerance_low"), certificate.speed("tolerance_high")
    if low is not None and high is not None and low.mps > high.mps:
        found.append(f"a tolerance from {low} to {high}")
    uncertainty = certificate.speed("speed_uncertainty")
    if uncertainty is not None and uncertainty.mps < 0:
        found.append(f"an uncertainty of {uncertainty}")
    return found


_DATES: Final = ("calibrated", "issued", "valid_until")


def last_day_covered(look: Look, certificate: Record) -> date | None:
    """The last day that a calibration covers: calibrated + interval, or the end that the
    certificate states where that is earlier. None where the date of calibration is missing.
    """
    calibrated = read_date(certificate.values.get("calibrated"))
    if calibrated is None:
        return None
    computed = add_months(calibrated, look.rules.value("calibration_interval").whole)
    stated = read_date(certificate.values.get("valid_until"))
    return computed if stated is None else min(computed, stated)


def device_of(look: Look, meter: str) -> Record | None:
    """The record of a meter by its serial, or None."""
    wanted = plain(meter)
    for record in look.day.of(RecordKind.METER):
        if plain(record.text("serial") or "") == wanted:
            return record
    return None
