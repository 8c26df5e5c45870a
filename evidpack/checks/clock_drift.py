"""Does a clock keep time? The end of check 6."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from evidpack.checks.clock_model import ClockLine
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, figure
from evidpack.checks.times import DAY_S
from evidpack.model.findings import Finding
from evidpack.rules.rule_values import RuleValue


def drift_of(look: Look, say: Say, line: ClockLine) -> Iterator[Finding]:
    """The drift that the checks of a clock give, against the limit over its period."""
    drift = line.drift()
    if drift is None:
        return
    days = look.rules.value("clock_period").number
    rule = look.rules.value("clock_offset_limit")
    period_s = days * DAY_S
    gained, uncertainty = drift.rate * period_s, drift.uncertainty * period_s
    subject = f"clock {line.name}"
    sentence = (
        f"The checks of clock {line.name} give a drift of {figure(drift.rate * 1e6):g} ppm, "
        f"{figure(gained):g} s in {days:g} days (uncertainty {figure(uncertainty):g} s, k = 2)"
    )
    told = _Told(subject, figure(gained), rule, f"s in {days:g} days")
    if abs(gained) - uncertainty > rule.number:
        yield say.query(
            told.subject,
            f"{sentence}, which is more than {rule.number:g} s.",
            "The workshop can say whether the clock keeps time; a later check would confirm it.",
            measured=told.measured,
            rule=told.rule,
            unit=told.unit,
        )
    elif abs(gained) + uncertainty <= rule.number:
        yield say.passed(
            told.subject,
            f"{sentence}, which is within {rule.number:g} s.",
            measured=told.measured,
            rule=told.rule,
            unit=told.unit,
        )
    else:
        yield _undecided_drift(say, told, sentence)


class _Told(NamedTuple):
    subject: str
    measured: float
    rule: RuleValue
    unit: str


def _undecided_drift(say: Say, told: _Told, sentence: str) -> Finding:
    return say.missing(
        told.subject,
        f"{sentence}: the checks are too near to each other to tell it from "
        f"{told.rule.number:g} s.",
        "A check of this clock some days before or after would tell.",
        needs="clock_drift",
        measured=told.measured,
        rule=told.rule,
        unit=told.unit,
    )
