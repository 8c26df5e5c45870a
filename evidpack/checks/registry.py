"""Every check, in the order in which it is told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from evidpack.checks import (
    certificate_contents,
    clocks,
    continuity,
    deadlines,
    device_tests,
    fixed_distance,
    geometry,
    images,
    listing,
    operators,
    order_of_events,
    paperwork,
    readings,
    redaction,
    reports,
    second_speed,
    site,
    threshold,
    video,
)
from evidpack.checks.definition import Check, Phase
from evidpack.checks.earlier_runs import said_before
from evidpack.checks.look import Look
from evidpack.errors import UsageError
from evidpack.model.day import Day
from evidpack.model.findings import Finding
from evidpack.rules.rule_values import RuleSet

CHECKS: Final[tuple[Check, ...]] = (
    Check(
        number="1",
        title="The certificate is for this meter",
        version=2,
        phase=Phase.SEALING,
        function=paperwork.certificate_is_for_this_meter,
        inputs=("calibration_certificate", "meter_type", "firmware"),
        source="common practice, no source",
    ),
    Check(
        number="2",
        title="Calibration in date",
        version=3,
        phase=Phase.SEALING,
        function=paperwork.calibration_in_date,
        inputs=("calibration_certificate",),
        source="Victoria Road Safety (General) Regulations 1999, regs 306, 309 (historic)",
    ),
    Check(
        number="2b",
        title="Certificate contents",
        version=4,
        phase=Phase.SEALING,
        function=certificate_contents.certificate_contents,
        inputs=("calibration_certificate", "certificate_uncertainty", "certificate_contents"),
        source="ISO/IEC 17025:2017 7.8.4; ILAC-G8:09/2019 4.2.3",
    ),
    Check(
        number="2c",
        title="Look-back",
        version=2,
        phase=Phase.LATER,
        function=certificate_contents.look_back,
        inputs=("later_calibration",),
        source="ISO/IEC 17025:2017 7.8.4",
    ),
    Check(
        number="3",
        title="Operator certified",
        version=3,
        phase=Phase.SEALING,
        function=operators.operator_certified,
        inputs=("operator", "operator_certificate"),
        source="rule set; renewal in use in one place, from memory",
    ),
    Check(
        number="4",
        title="Tests before and after",
        version=4,
        phase=Phase.SEALING,
        function=device_tests.tests_before_and_after,
        inputs=("device_tests", "order"),
        source="ACT road-transport regulation 2017, s.21",
    ),
    Check(
        number="5",
        title="Fixed distance",
        version=2,
        phase=Phase.SEALING,
        function=fixed_distance.fixed_distance,
        inputs=("surveyed_distance",),
        source="NHTSA speed-measuring device performance specifications, lidar module, 2.4",
    ),
    Check(
        number="6",
        title="Clock and offset",
        version=5,
        phase=Phase.SEALING,
        function=clocks.clock_and_offset,
        inputs=("clock_zone", "clock_checks", "clock_drift", "single_instant"),
        source="SI 2022/71 Sch. 1 paras 2-4; PEP 495",
    ),
    Check(
        number="7",
        title="Order of events",
        version=4,
        phase=Phase.SEALING,
        function=order_of_events.order_of_events,
        inputs=("opinion_time", "order"),
        source="common practice, no source",
    ),
    Check(
        number="8",
        title="Image numbers continuous",
        version=5,
        phase=Phase.SEALING,
        function=continuity.image_numbers_continuous,
        inputs=("image_counter", "image_ends"),
        source="SI 2022/71 Sch. 1 paras 2-4",
    ),
    Check(
        number="9",
        title="Video continuous",
        version=3,
        phase=Phase.SEALING,
        function=video.video_continuous,
        inputs=("frame_times",),
        source="SI 2022/71 Sch. 1 paras 2-4",
    ),
    Check(
        number="10",
        title="Reading within limits",
        version=3,
        phase=Phase.SEALING,
        function=readings.reading_within_limits,
        inputs=("range", "pulse_ranges", "approval"),
        source="NHTSA speed-measuring device performance specifications, lidar module, 2.11",
    ),
    Check(
        number="11",
        title="Still agrees with record",
        version=6,
        phase=Phase.SEALING,
        function=images.still_agrees,
        inputs=("data_strip", "still_time", "camera_serial", "thumbnail"),
        source="French order of 4 June 2009: image data repeats the display exactly",
    ),
    Check(
        number="12",
        title="Second speed check",
        version=3,
        phase=Phase.SEALING,
        function=second_speed.second_speed_check,
        inputs=("two_timed_stills", "reading_uncertainty"),
        source="JCGM 100:2008 (GUM), from memory",
    ),
    Check(
        number="13",
        title="One vehicle, aim",
        version=3,
        phase=Phase.SEALING,
        function=images.one_vehicle_and_aim,
        inputs=("review",),
        source="common practice, no source",
    ),
    Check(
        number="14",
        title="Geometry",
        version=3,
        phase=Phase.SEALING,
        function=geometry.geometry,
        inputs=("site_geometry",),
        source="geometry",
    ),
    Check(
        number="15",
        title="Site authorised",
        version=5,
        phase=Phase.SEALING,
        function=site.site_authorised,
        inputs=(
            "site",
            "speed_limit",
            "signs_seen",
            "reduced_limit_signs",
            "position",
            "direction",
        ),
        source="common practice, no source",
    ),
    Check(
        number="16",
        title="Threshold",
        version=2,
        phase=Phase.SEALING,
        function=threshold.threshold_said,
        inputs=("speed_limit",),
        source="rule set",
    ),
    Check(
        number="17",
        title="Report complete and signed",
        version=2,
        phase=Phase.SEALING,
        function=reports.report_complete,
        inputs=("report", "report_unaltered"),
        source="common practice, no source",
    ),
    Check(
        number="18",
        title="Everything listed",
        version=5,
        phase=Phase.SEALING,
        function=listing.everything_listed,
        inputs=("joining", "items_named"),
        source="common practice, no source",
    ),
    Check(
        number="19",
        title="Redaction sound",
        version=1,
        phase=Phase.RELEASE,
        function=redaction.redaction_sound,
        inputs=(),
        source="the pack's own verification",
    ),
    Check(
        number="20",
        title="Statutory clocks",
        version=2,
        phase=Phase.LATER,
        function=deadlines.statutory_clocks,
        inputs=("events",),
        source="rule set, as an example of a stated edition",
    ),
)


def check(number: str) -> Check:
    """The check with this number (``2b`` or ``2B``). Raises UsageError where there is none."""
    for one in CHECKS:
        if one.number == number.lower():
            return one
    raise UsageError(
        f"there is no check {number!r}",
        expected=", ".join(one.number for one in CHECKS),
        observed=number,
        hint="docs/checks.md lists them",
    )


def run_checks(day: Day, rules: RuleSet, *, later: bool = False) -> tuple[Finding, ...]:
    """All findings about a day, check by check in stated order.

    At sealing the checks of the later phase don't apply: what they need has not happened yet.
    With `later` the day holds events and certificates that came after, and they run.
    """
    look = Look(day, rules)
    found = {one.number: one.at(look, later=later) for one in CHECKS}
    return tuple(
        finding
        for one in CHECKS
        for finding in (*found[one.number], *_superseded(one, look, found, later=later))
    )


def _superseded(
    one: Check, look: Look, found: Mapping[str, tuple[Finding, ...]], *, later: bool
) -> Iterator[Finding]:
    """What only a run of all checks can tell: check 18 lists what earlier runs said besides."""
    if one.number != "18":
        return
    not_asked = frozenset(
        other.number for other in CHECKS if other.phase is Phase.LATER and not later
    )
    now = [finding for findings in found.values() for finding in findings]
    yield from said_before(look, one.say(look), now, not_asked=not_asked)
