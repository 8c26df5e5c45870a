"""Were the stills taken with their readings? Part of check 11, on the reconciled line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from evidpack.checks.clock_model import slack_s
from evidpack.checks.clock_patterns import offset_pattern
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.findings import Finding
from evidpack.rules.rule_values import RuleValue

_SEVERAL: Final = 3  # so many stills that are away by one and the same time are told together


class _Away(NamedTuple):
    """A still that is further from its reading than allowed, seconds: after it, or before
    (negative), and what the clocks explain."""

    number: int
    apart_s: float
    slack_s: float


def taken_with_readings(look: Look, say: Say) -> Iterator[Finding]:
    """Each still within the rule set's time and the clocks' slack of its reading."""
    rule = look.rules.value("still_time_limit")
    near: list[int] = []
    untimed: list[int] = []
    away: dict[str | None, list[_Away]] = {}
    for reading in look.readings.with_numbers(look.stills_of_captures):
        place = look.placements.get(reading.number)
        for still in look.stills_of_captures.get(reading.number, ()):
            taken = look.place(still, "time")
            slack = None if place is None or taken is None else slack_s(place, taken)
            lost = reading.number in look.rolled_readings  # check 6 says that its date is wrong
            if lost or place is None or taken is None or slack is None:
                untimed.append(reading.number)
                continue
            apart = taken.at_s - place.at_s
            if abs(apart) <= rule.number + slack:
                near.append(reading.number)
            else:
                away.setdefault(reading.session, []).append(_Away(reading.number, apart, slack))
    for _, group in sorted(away.items(), key=lambda one: str(one[0])):
        yield from _told(look, say, rule, group)
    yield from _summed_up(say, rule, near, untimed)


def _told(look: Look, say: Say, rule: RuleValue, group: Sequence[_Away]) -> Iterator[Finding]:
    """One query for each, or one for all where a clock is away rather than the stills."""
    spread = max(one.apart_s for one in group) - min(one.apart_s for one in group)
    together = len(group) >= _SEVERAL and spread <= rule.number + max(one.slack_s for one in group)
    if not together:
        yield from (_single(say, rule, one) for one in group)
        return
    numbers = [one.number for one in group]
    middle = sorted(one.apart_s for one in group)[len(group) // 2]
    pattern = offset_pattern(middle, look.rules.value("clock_pattern_width").number)
    yield say.query(
        captures(numbers),
        f"The stills of {captures(numbers)} were all taken about {figure(abs(middle), 1):g} s "
        f"{'after' if middle > 0 else 'before'} their readings by the reconciled clocks"
        f"{f', {pattern}' if pattern else ''}; {rule.number:g} s are allowed.",
        "The operator can say how the clocks of meter and camera were set, and in which zone.",
        measured=figure(middle, 1),
        rule=rule,
    )


def _single(say: Say, rule: RuleValue, one: _Away) -> Finding:
    return say.query(
        f"capture {one.number}",
        f"The still of capture {one.number} was taken {figure(abs(one.apart_s), 1):g} s "
        f"{'after' if one.apart_s > 0 else 'before'} its reading by the reconciled clocks, whose "
        f"uncertainty explains {figure(one.slack_s, 1):g} s; {rule.number:g} s are allowed.",
        "The operator can say whether the still belongs to this reading.",
        measured=figure(one.apart_s, 1),
        rule=rule,
    )


def _summed_up(say: Say, rule: RuleValue, near: list[int], untimed: list[int]) -> Iterator[Finding]:
    if untimed:
        yield say.missing(
            captures(untimed),
            f"Whether the stills of {captures(untimed)} were taken with their readings can't be "
            "told from their times: one is missing or lost its date, names no instant or comes from "
            "a clock that was never compared.",
            "A clock check of the camera, or its zone in day.toml, would tell.",
            needs="still_time",
            measured=len(set(untimed)),
        )
    if near:
        yield say.passed(
            captures(near),
            f"The stills of {captures(near)} were taken with their readings, within "
            f"{rule.number:g} s and the clocks' uncertainty.",
            measured=len(set(near)),
            rule=rule,
        )
