"""What the calibration certificate says. Checks 2b and 2c."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final

from evidpack.checks.certificate_lookup import (
    calibration_for,
    calibrations_of,
    impossible,
    meters_used,
)
from evidpack.checks.guard_band import Decision, four_way
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, figure, upper_first
from evidpack.checks.times import read_date
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.units import SPEED_SUFFIX

_LABORATORY: Final = "The laboratory can supply a complete certificate."
_QUANTITIES: Final = ("speed_error", "speed_uncertainty")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """An error against its tolerance, all in `unit`; `guard` is the guard band."""

    error: float
    low: float
    high: float
    uncertainty: float
    guard: float
    unit: str
    source: str

    @property
    def decision(self) -> Decision:
        """The four-way decision, the worse of both sides."""
        return four_way(self.error, self.low, self.high, self.guard)

    @property
    def limit(self) -> str:
        """The tolerance with its guard band as findings print it."""
        return f"{self.low:g} to {self.high:+g}, guard band {figure(self.guard, 3):g}"


def tolerance_of(look: Look, certificate: Record, name: str) -> Tolerance | None:
    """The error `name` of a certificate against the tolerance that it states, or the rule set's;
    None where the error, its uncertainty or a tolerance is missing.
    """
    error, uncertainty = certificate.speed(name), certificate.speed("speed_uncertainty")
    low, high = certificate.speed("tolerance_low"), certificate.speed("tolerance_high")
    source = f"certificate {certificate.text('number') or ''}".strip()
    if low is None or high is None:
        lower, upper = (
            look.rules.find("speed_tolerance_low"),
            look.rules.find("speed_tolerance_high"),
        )
        if lower is None or upper is None:
            return None
        low, high, source = lower.speed, upper.speed, upper.cite
    if error is None or uncertainty is None or uncertainty.value <= 0:
        return None
    unit = error.unit
    wide = abs(uncertainty.in_unit(unit))
    return Tolerance(
        error=error.in_unit(unit),
        low=low.in_unit(unit),
        high=high.in_unit(unit),
        uncertainty=wide,
        guard=look.rules.value("guard_band_factor").number * wide,
        unit=unit,
        source=f"{source}; {look.rules.value('guard_band_factor').cite}",
    )


def last_date(look: Look) -> date:
    """The last date of any session, else the day."""
    ends = [session.dates[1] for session in look.sessions if session.dates is not None]
    return max(ends, default=look.day.description.date)


def certificate_contents(look: Look, say: Say) -> Iterator[Finding]:
    """Check 2b: the certificate states what ISO/IEC 17025 asks, and its error is in tolerance."""
    for meter in meters_used(look):
        certificate = calibration_for(look, meter, last_date(look))
        if certificate is None:
            yield say.missing(
                f"meter {meter}",
                f"There is no calibration certificate for meter {meter} to read.",
                "The unit's records office can supply the calibration certificate.",
                needs="calibration_certificate",
                told_by="1",
            )
            continue
        subject = f"certificate {certificate.text('number') or 'without number'}"
        yield from _contents(look, say, certificate, subject)
        faults = impossible(certificate)
        if faults:
            yield say.query(
                subject,
                f"{upper_first(subject)} contradicts itself: {'; '.join(faults)}.",
                _LABORATORY,
                measured=[*faults],
                source="common practice, no source",
            )
            continue  # what it says of the error is no ground for a decision
        yield from _in_tolerance(look, say, certificate, subject)


def _states(certificate: Record, name: str) -> bool:
    if name in certificate.values:
        return True
    return any(f"{name}_{suffix}" in certificate.values for suffix in SPEED_SUFFIX.values())


def _contents(look: Look, say: Say, certificate: Record, subject: str) -> Iterator[Finding]:
    rule = look.rules.value("certificate_fields")
    # An absent error or uncertainty is told by the tolerance decision, once.
    fields = [name for name in rule.texts if name not in _QUANTITIES]
    absent = [name for name in fields if not _states(certificate, name)]
    if absent:
        yield say.query(
            subject,
            f"{upper_first(subject)} does not state: {', '.join(absent)}.",
            _LABORATORY,
            measured=[name for name in fields if name not in absent],
            rule=rule,
        )
    else:
        yield say.passed(
            subject,
            f"{upper_first(subject)} states {', '.join(fields)}.",
            measured=[*fields],
            rule=rule,
        )


def _in_tolerance(look: Look, say: Say, certificate: Record, subject: str) -> Iterator[Finding]:
    for name, needs in (
        ("speed_uncertainty", "certificate_uncertainty"),
        ("speed_error", "certificate_contents"),
    ):
        if certificate.speed(name) is None:
            yield say.missing(
                subject,
                f"{upper_first(subject)} states no {name.replace('_', ' ')}, so whether the meter "
                "is in tolerance can't be decided.",
                _LABORATORY,
                needs=needs,
            )
            return
    if (stated := certificate.speed("speed_uncertainty")) is not None and stated.value <= 0:
        yield say.missing(
            subject,
            f"{upper_first(subject)} states an expanded uncertainty of {stated}, which is none, so "
            "whether the meter is in tolerance can't be decided.",
            _LABORATORY,
            needs="certificate_uncertainty",
        )
        return
    found = tolerance_of(look, certificate, "speed_error")
    if found is None:
        yield say.missing(
            subject,
            f"Neither {subject} nor the rule set states a tolerance for the speed error.",
            _LABORATORY,
            needs="certificate_contents",
        )
        return
    sentence = (
        f"The error of {figure(found.error, 3):+g} {found.unit} on {subject} is a "
        f"{found.decision.words} against {found.low:g} to {found.high:+g} {found.unit} with a "
        f"guard band of {figure(found.guard, 3):g}"
    )
    details = (figure(found.error, 3), found.limit, found.unit, found.source)
    yield _spoken(say, subject, sentence, found.decision, details)


def _spoken(
    say: Say,
    subject: str,
    sentence: str,
    decision: Decision,
    details: tuple[float, str, str, str],
) -> Finding:
    measured, limit, unit, source = details
    if decision is Decision.PASS:
        return say.passed(
            subject, f"{sentence}.", measured=measured, limit=limit, unit=unit, source=source
        )
    speak = say.failed if decision is Decision.FAIL else say.query
    return speak(
        subject,
        f"{sentence}.",
        "The laboratory can say whether the meter conforms and by which decision rule.",
        measured=measured,
        limit=limit,
        unit=unit,
        source=source,
    )


def look_back(look: Look, say: Say) -> Iterator[Finding]:
    """Check 2c: the next calibration found the meter in tolerance before it was adjusted."""
    for meter in meters_used(look):
        subject = f"meter {meter}"
        last = last_date(look)
        later = [
            record
            for record in calibrations_of(look, meter)
            if (calibrated := read_date(record.values.get("calibrated"))) and calibrated > last
        ]
        if not later or later[0].speed("speed_error_found") is None:
            what = (
                "No later calibration"
                if not later
                else "No as-found result of the next calibration"
            )
            yield say.missing(
                subject,
                f"{what} of meter {meter} is on record.",
                "The laboratory can supply the as-found result of the next calibration.",
                needs="later_calibration",
            )
            continue
        yield _found_later(look, say, meter, later[0])


def _found_later(look: Look, say: Say, meter: str, certificate: Record) -> Finding:
    subject = f"meter {meter}"
    number = certificate.text("number") or "without number"
    found = tolerance_of(look, certificate, "speed_error_found")
    if found is None:
        return say.missing(
            subject,
            f"The as-found result of certificate {number} has no uncertainty or no tolerance.",
            _LABORATORY,
            needs="later_calibration",
        )
    before = calibration_for(look, meter, last_date(look))
    since = read_date(before.values.get("calibrated")) if before is not None else None
    error = (
        f"{figure(found.error, 3):+g} {found.unit}, a {found.decision.words} against "
        f"{found.low:g} to {found.high:+g} {found.unit} with a guard band of "
        f"{figure(found.guard, 3):g}"
    )
    if found.decision in {Decision.PASS, Decision.CONDITIONAL_PASS}:
        return say.passed(
            subject,
            f"The next calibration (certificate {number}) found meter {meter} at {error}.",
            measured=figure(found.error, 3),
            limit=found.limit,
            unit=found.unit,
            source=found.source,
        )
    return say.query(
        subject,
        f"The next calibration (certificate {number}) found meter {meter} at {error}: "
        f"every day since {since or 'the last good calibration'} is concerned.",
        "The laboratory can say since when; the prosecutor has to be told.",
        measured=figure(found.error, 3),
        limit=found.limit,
        unit=found.unit,
        source=found.source,
    )
