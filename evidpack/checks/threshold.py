"""Does a reading reach the threshold? Check 16: said, not judged; the raw reading is kept."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext
from typing import Final, cast

from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.day_readings import SPEED_NAMES
from evidpack.checks.limit_orders import limit_for
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure, upper_first
from evidpack.model.findings import Finding
from evidpack.model.units import Speed, SpeedUnit
from evidpack.rules.rule_values import RuleSet

_DIGITS: Final = 700  # enough for any float, so that an impossible speed ends in a finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """What a rule set does with a reading before it is compared: `kept` is the reading after any
    deduction, `needed` what it has to reach (`strictly`: exceed), both in `unit`.
    """

    kept: float
    needed: float
    strictly: bool
    unit: str

    @property
    def reached(self) -> bool:
        """Whether the reading reaches the threshold."""
        apart = round(self.kept - self.needed, 9)
        return apart > 0 if self.strictly else apart >= 0


def deducted(speed: Speed, rules: RuleSet) -> Speed:
    """A reading less the deduction of the rule set, in the deduction's unit; the reading itself
    where the rule set makes none.

    Up to `deduction_share_from` the fixed amount is taken off, above it the share, rounded up to
    a whole unit: 3 km/h and 3 % make 101 → 97 and 137 → 132.
    """
    fixed, share = rules.find("deduction_fixed"), rules.find("deduction_share")
    start = rules.find("deduction_share_from")
    if fixed is None or share is None or start is None:
        return speed
    unit = fixed.unit
    with localcontext(prec=_DIGITS):
        value = _in_unit(speed, unit)
        if value <= _in_unit(start.speed, unit):
            less = _in_unit(fixed.speed, unit)
        else:
            part = value * Decimal(str(share.number)) / 100
            less = part.to_integral_value(rounding=ROUND_CEILING)
        return Speed(value=value - less, unit=cast("SpeedUnit", unit))


def threshold(limit: Speed, rules: RuleSet) -> Speed | None:
    """The limit plus the share and the fixed amount, in the unit of the fixed amount; None where
    the rule set has no threshold. 10 % + 2 mph make 24, 35, 46, 57, 68, 79 for 20 to 70 mph.
    """
    share, fixed = rules.find("threshold_share"), rules.find("threshold_fixed")
    if share is None or fixed is None:
        return None
    value = _in_unit(limit, fixed.unit)
    added = value * Decimal(str(share.number)) / 100 + _in_unit(fixed.speed, fixed.unit)
    return Speed(value=value + added, unit=cast("SpeedUnit", fixed.unit))


def _in_unit(speed: Speed, unit: str) -> Decimal:
    """Exact in its own unit, else rounded to a billionth of the other."""
    if speed.unit == unit:
        return speed.value
    return Decimal(repr(figure(speed.in_unit(cast("SpeedUnit", unit)), 9)))


def practice(speed: Speed, limit: Speed, rules: RuleSet) -> Practice:
    """The reading against limit or threshold, by the rule set's practice."""
    needed = threshold(limit, rules)
    kept = deducted(speed, rules)
    goal = limit if needed is None else needed
    unit = goal.unit
    return Practice(
        kept=float(_in_unit(kept, unit)),
        needed=float(_in_unit(goal, unit)),
        strictly=needed is None,
        unit=unit,
    )


_LIMITS: Final = ("limit_mph", "limit_kmh", "limit_mps")


def threshold_said(look: Look, say: Say) -> Iterator[Finding]:
    """Check 16: which readings reach the threshold and which do not."""
    sessions = {session.id: session for session in look.sessions}
    readings = look.readings
    groups: dict[tuple[str, float, str, bool], tuple[list[int], list[int]]] = {}
    without: list[int] = []
    keys = readings.keys(*SPEED_NAMES, *_LIMITS)
    numbers_by: dict[Hashable, list[int]] = {}
    # Equal speeds under equal limits are computed once.
    for key, place in dict(zip(keys, range(len(keys)), strict=True)).items():
        reading = readings[place]
        found = _practice_of(look, reading, sessions.get(reading.session or ""))
        if found is None:
            numbers_by[key] = without
            continue
        group = groups.setdefault(
            (reading.session or "", found.needed, found.unit, found.strictly), ([], [])
        )
        numbers_by[key] = group[0 if found.reached else 1]
    for key, number in zip(keys, readings.numbers, strict=True):
        numbers_by[key].append(number)
    yield from _without(look, say, without)
    for (session, needed, unit, strictly), (reached, below) in sorted(groups.items()):
        yield from _said(look, say, session, (needed, unit, strictly), reached, below)


def _practice_of(look: Look, reading: Reading, session: Session | None) -> Practice | None:
    """The practice for a reading; None where speed or limit is missing."""
    speed, limit = reading.record.speed("speed"), reading.record.speed("limit")
    if limit is None:
        due = limit_for(look, session)
        limit = None if due is None else due[0]
    return None if speed is None or limit is None else practice(speed, limit, look.rules)


def _without(look: Look, say: Say, without: list[int]) -> Iterator[Finding]:
    """Readings without speed or limit; of a session without a limit check 15 says so."""
    if not without:
        return
    known = {session.id for session in look.sessions}
    readings = look.readings
    if len(without) != len(readings):
        readings = readings.where(readings.places_of(without))
    pairs = zip(readings.speeds, readings.sessions, strict=True)
    told = [speed is not None and session in known for speed, session in pairs]
    for told_by in ("15", None):
        wanted = told_by is not None
        numbers: Sequence[int] = readings.numbers
        if told.count(wanted) != len(told):
            numbers = [one for one, by in zip(numbers, told, strict=True) if by is wanted]
        if numbers:
            yield say.missing(
                captures(numbers),
                f"Speed or speed limit is not on record for {captures(numbers)}.",
                "The site record or the limit order can supply the limit.",
                needs="speed_limit",
                measured=len(numbers),
                told_by=told_by,
            )


def _said(
    look: Look,
    say: Say,
    session: str,
    goal: tuple[float, str, bool],
    reached: list[int],
    below: list[int],
) -> Iterator[Finding]:
    needed, unit, strictly = goal
    rule = look.rules.find("threshold_fixed") or look.rules.find("deduction_fixed")
    source = "the speed limit; the rule set names no threshold" if rule is None else rule.cite
    subject = f"session {session}" if session else "readings without a session"
    less = "" if look.rules.find("deduction_fixed") is None else " after the deduction"
    verb = "exceed" if strictly else "reach"
    for numbers, does in ((reached, True), (below, False)):
        if not numbers:
            continue
        one = len(numbers) == 1
        words = f"{verb}s" if does and one and verb == "exceed" else verb
        if does and one and verb == "reach":
            words = "reaches"
        if not does:
            words = f"{'does' if one else 'do'} not {verb}"
        yield say.passed(
            subject,
            f"{upper_first(captures(numbers))} {words} {figure(needed):g} {unit}{less}; this is "
            "said, not judged.",
            measured=len(numbers),
            limit=figure(needed),
            unit=unit,
            source=source,
            undermines=not does,
        )
