"""Did the signs of a limit order stand on the day? Part of check 15.

What a limit order says, drivers read from signs.  Where an order sets a lower limit than the site's
own, nothing but the signs tells them: that input has a name of its own, which a rule set can require
without requiring a look at the signs of every standing limit.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final

from evidpack.checks.day_parts import Session
from evidpack.checks.geometry import site_of
from evidpack.checks.limit_orders import order_in_force
from evidpack.checks.look import Look
from evidpack.checks.saying import Say
from evidpack.checks.times import read_date
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.rules.rule_values import RuleValue

_SOURCE: Final = "common practice, no source"
_WHO: Final = "The operator or the highway authority can say whether the signs stood on the day."


def signs_in_place(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """The signs of the order in force: seen near enough before the session, and not found missing
    since.
    """
    order, dates = order_in_force(look, session), session.dates
    if order is None or dates is None:
        return
    number = order.text("number") or "without number"
    seen, missing = (read_date(order.values.get(name)) for name in ("signs_seen", "signs_missing"))
    if missing is not None and _in_doubt(seen, missing, dates):
        yield _missing(say, session, number, (dates[0], seen, missing))
        return
    if seen is None:
        lower = _is_lower(look, session, order)
        which = ", which sets a lower limit than the site's own," if lower else ""
        yield say.missing(
            f"limit order {number}",
            f"When the signs of limit order {number}{which} were seen in place is not on record.",
            "The operator or the highway authority can supply the day of the sign check.",
            needs="reduced_limit_signs" if lower else "signs_seen",
        )
        return
    yield _seen(say, session, number, (dates[0], seen), look.rules.find("signs_seen_days"))


def _in_doubt(seen: date | None, missing: date, dates: tuple[date, date]) -> bool:
    """Whether signs that were found missing may have been missing at the session: not where they
    were seen after that, nor where they were seen at the session and found missing later.
    """
    if seen is None:
        return True
    at_session = dates[0] <= seen <= dates[1]
    return seen <= missing and not (at_session and missing > dates[1])


def _is_lower(look: Look, session: Session, order: Record) -> bool:
    """Whether the order sets a lower limit than the record of the site."""
    site = site_of(look, session)
    usual = site.speed("limit") if site is not None else None
    limit = order.speed("limit")
    return usual is not None and limit is not None and limit.mps < usual.mps - 1e-9


def _missing(
    say: Say, session: Session, number: str, days: tuple[date, date | None, date]
) -> Finding:
    """Signs that somebody looked for in vain: days are those of the session, of the last look that
    found them, and of the one that did not.
    """
    first, seen, missing = days
    after = missing > first
    same = missing == seen
    last = f"last seen in place on {seen}" if seen else "never seen in place on record"
    sentence = (
        f"The signs of limit order {number} were found missing on {missing}"
        f"{', after' if after else ', on or before'} session {session.id} of {first}, and {last}."
    )
    if same:
        sentence = (
            f"The signs of limit order {number} were seen in place and found missing on one day, "
            f"{missing}, and session {session.id} was on {first}."
        )
    speak = say.query if after or same else say.failed
    return speak(
        f"limit order {number}",
        sentence,
        _WHO,
        measured=missing.isoformat(),
        limit=first.isoformat(),
        unit="date",
        source=_SOURCE,
    )


def _seen(
    say: Say, session: Session, number: str, days: tuple[date, date], rule: RuleValue | None
) -> Finding:
    """Whether the signs were seen (second date) near enough before the session (first date)."""
    first, seen = days
    subject = f"limit order {number}"
    before = (first - seen).days
    if before < 0:
        return say.query(
            subject,
            f"The signs of limit order {number} were seen on {seen}, after session {session.id} "
            f"of {first}, but not before it.",
            _WHO,
            measured=seen.isoformat(),
            limit=first.isoformat(),
            unit="date",
            source=_SOURCE,
        )
    if rule is not None and before > rule.whole:
        return say.query(
            subject,
            f"The signs of limit order {number} were last seen {before} days before session "
            f"{session.id}, more than {rule.whole}.",
            _WHO,
            measured=before,
            rule=rule,
        )
    return say.passed(
        subject,
        f"The signs of limit order {number} were seen in place on {seen}, {before} days before "
        f"session {session.id}.",
        measured=before,
        unit="days",
        rule=rule,
    )
