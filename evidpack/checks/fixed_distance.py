"""Did the meter measure the fixed distance? Check 5."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, figure
from evidpack.checks.times import clock_text, read_moment
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.rules.rule_values import RuleValue

_ADVICE: Final = (
    "The operator can supply the test log or form, or explain why there is no such test."
)
# The difference of two decimals read as floats: finer than any display, coarser than a float's end.
_DIGITS: Final = 9


def test_time(record: Record) -> str:
    """When a device test was done, as its clock showed it."""
    moment = read_moment(record.values.get("time"))
    return "an unknown time" if moment is None else clock_text(moment)


def fixed_distance(look: Look, say: Say) -> Iterator[Finding]:
    """Check 5: |measured − surveyed| within tolerance, for every distance test."""
    rule = look.rules.value("distance_tolerance")
    found = [
        record
        for record in look.day.of(RecordKind.DEVICE_TEST)
        if record.text("test") == "distance"
    ]
    if not found:
        yield say.missing(
            "day",
            "No fixed-distance test is on record.",
            _ADVICE,
            needs="surveyed_distance",
            rule=rule,
        )
    for record in sorted(found, key=lambda one: one.source.order):
        yield _distance(say, rule, record)


def _distance(say: Say, rule: RuleValue, record: Record) -> Finding:
    """One distance test against the tolerance."""
    subject = f"distance test at {test_time(record)}"
    measured, surveyed = record.length("measured"), record.length("surveyed")
    if measured is None or surveyed is None:
        absent = "measured" if measured is None else "surveyed"
        return say.missing(
            subject,
            f"The distance test at {test_time(record)} does not state the {absent} distance.",
            "The operator can supply the distance from the test form or the site survey.",
            needs="surveyed_distance",
            rule=rule,
        )
    off = round(abs(measured.metres - surveyed.metres), _DIGITS)
    sentence = (
        f"The distance test at {test_time(record)} measured {measured} against {surveyed} "
        f"surveyed, {figure(off, 3)} m off"
    )
    if off <= round(rule.metres, _DIGITS):
        return say.passed(
            subject,
            f"{sentence}.",
            measured=figure(off, 3),
            rule=rule,
            limit=rule.metres,
            unit="m",
        )
    return say.failed(
        subject,
        f"{sentence}, which is more than {rule.metres:g} m.",
        "The operator can say how the distance was set out, the workshop whether the meter is right.",
        measured=figure(off, 3),
        rule=rule,
        limit=rule.metres,
        unit="m",
    )
