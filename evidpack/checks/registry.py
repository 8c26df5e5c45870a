"""Every check, in the order in which it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from evidpack.checks import clocks, continuity, device_tests, order_of_events, paperwork, readings
from evidpack.checks.look import Look
from evidpack.checks.saying import Say
from evidpack.model.day import Day
from evidpack.model.findings import Finding
from evidpack.rules.rule_values import RuleSet


class Phase(StrEnum):
    """When a check runs."""

    SEALING = "S"
    LATER = "L"
    RELEASE = "R"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check. `function` gives findings from a look and is a pure function of it."""

    number: str
    title: str
    version: int
    phase: Phase
    function: Callable[[Look, Say], Iterable[Finding]]
    inputs: tuple[str, ...]
    source: str

    def run(self, day: Day, rules: RuleSet) -> tuple[Finding, ...]:
        """The findings of this check about a day under a rule set."""
        return self.look_at(Look(day, rules))

    def look_at(self, look: Look) -> tuple[Finding, ...]:
        """The findings of this check about a look that several checks share."""
        say = Say(check=self.number, version=self.version, rules=look.rules)
        return tuple(self.function(look, say))


CHECKS: Final[tuple[Check, ...]] = (
    Check(
        number="1",
        title="The certificate is for this meter",
        version=1,
        phase=Phase.SEALING,
        function=paperwork.certificate_is_for_this_meter,
        inputs=("calibration_certificate", "meter_type", "firmware"),
        source="common practice, no source",
    ),
    Check(
        number="2",
        title="Calibration in date",
        version=1,
        phase=Phase.SEALING,
        function=paperwork.calibration_in_date,
        inputs=("calibration_certificate",),
        source="Victoria Road Safety (General) Regulations 1999, regs 306, 309 (historic)",
    ),
    Check(
        number="4",
        title="Tests before and after",
        version=1,
        phase=Phase.SEALING,
        function=device_tests.tests_before_and_after,
        inputs=("device_tests", "order"),
        source="ACT road-transport regulation 2017, s.21",
    ),
    Check(
        number="6",
        title="Clock and offset",
        version=1,
        phase=Phase.SEALING,
        function=clocks.clock_and_offset,
        inputs=("clock_zone", "clock_checks", "single_instant"),
        source="SI 2022/71 Sch. 1 paras 2-4; PEP 495",
    ),
    Check(
        number="7",
        title="Order of events",
        version=1,
        phase=Phase.SEALING,
        function=order_of_events.order_of_events,
        inputs=("opinion_time", "order"),
        source="common practice, no source",
    ),
    Check(
        number="8",
        title="Image numbers continuous",
        version=1,
        phase=Phase.SEALING,
        function=continuity.image_numbers_continuous,
        inputs=("image_counter", "image_ends"),
        source="SI 2022/71 Sch. 1 paras 2-4",
    ),
    Check(
        number="10",
        title="Reading within limits",
        version=1,
        phase=Phase.SEALING,
        function=readings.reading_within_limits,
        inputs=("range", "pulse_ranges"),
        source="NHTSA speed-measuring device performance specifications, lidar module, 2.11",
    ),
)


def run_checks(day: Day, rules: RuleSet) -> tuple[Finding, ...]:
    """All findings about a day, check by check in stated order."""
    look = Look(day, rules)
    return tuple(finding for check in CHECKS for finding in check.look_at(look))
