"""Was the site authorised, with the limit that was applied? Check 15."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.geometry import site_of
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.checks.times import read_date
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.units import Speed
from evidpack.rules.rule_values import RuleValue

SOURCE: Final = "common practice, no source"
_HIGHWAYS: Final = "The highway authority or the unit's site register can supply it."
_DIGITS: Final = 6


def site_authorised(look: Look, say: Say) -> Iterator[Finding]:
    """Check 15: site, dates, speed limit, order and signs."""
    for session in look.sessions:
        site = site_of(look, session)
        if site is None:
            known = look.day.of(RecordKind.SITE)
            if known:
                yield say.failed(
                    session.subject,
                    f"Session {session.id} was done at site {session.site}, which is none of the "
                    f"{len(known)} sites on record.",
                    _HIGHWAYS,
                    measured=session.site,
                    source=SOURCE,
                )
            else:
                yield say.missing(
                    session.subject,
                    f"There is no record of site {session.site} of session {session.id}.",
                    _HIGHWAYS,
                    needs="site",
                )
            continue
        yield from _dates(say, session, site)
        yield from _orders(look, say, session)
        yield from _limits(look, say, session)


def _dates(say: Say, session: Session, site: Record) -> Iterator[Finding]:
    dates = session.dates
    first = read_date(site.values.get("authorised_from"))
    last = read_date(site.values.get("authorised_until"))
    if dates is None or first is None:
        yield say.missing(
            session.subject,
            f"From when site {session.site} is authorised is not on record.",
            _HIGHWAYS,
            needs="site",
        )
        return
    covered = f"{first.isoformat()} to {last.isoformat() if last else 'no stated end'}"
    measured = dates[0].isoformat()
    if first <= dates[0] and (last is None or dates[1] <= last):
        yield say.passed(
            session.subject,
            f"Site {session.site} is authorised {covered}, which covers session {session.id}.",
            measured=measured,
            limit=covered,
            unit="date",
            source=SOURCE,
        )
    else:
        yield say.failed(
            session.subject,
            f"Site {session.site} is authorised {covered}, which does not cover session "
            f"{session.id} of {measured}.",
            _HIGHWAYS,
            measured=measured,
            limit=covered,
            unit="date",
            source=SOURCE,
        )


def orders_of(look: Look, session: Session) -> tuple[Record, ...]:
    """Limit orders for the site of a session, the latest first."""
    found = [
        record
        for record in look.day.of(RecordKind.LIMIT_ORDER)
        if plain(record.text("site") or "") == plain(session.site)
    ]
    return tuple(
        sorted(
            found, key=lambda one: (str(one.values.get("from", "")), str(one.source)), reverse=True
        )
    )


def order_in_force(look: Look, session: Session) -> Record | None:
    """The latest limit order that covers the dates of a session, or None."""
    dates = session.dates
    for record in orders_of(look, session):
        if dates is not None and _covers(record, dates):
            return record
    return None


def _covers(order: Record, dates: tuple[date, date]) -> bool:
    first, last = read_date(order.values.get("from")), read_date(order.values.get("until"))
    return first is not None and first <= dates[0] and (last is None or dates[1] <= last)


def limit_for(look: Look, session: Session | None) -> tuple[Speed, str] | None:
    """The speed limit at a session and where it comes from: an order in force, else the site."""
    if session is None:
        return None
    order, site = order_in_force(look, session), site_of(look, session)
    for record, words in ((order, "limit order"), (site, "site record")):
        limit = record.speed("limit") if record is not None else None
        if limit is not None and record is not None:
            return limit, f"{words} {record.text('number') or record.text('id') or ''}".strip()
    return None


def _orders(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """Signs of the order in force."""
    order, dates = order_in_force(look, session), session.dates
    if order is None or dates is None:
        return
    number = order.text("number") or "without number"
    subject = f"limit order {number}"
    seen = read_date(order.values.get("signs_seen"))
    if seen is None:
        yield say.missing(
            subject,
            f"When the signs of limit order {number} were seen in place is not on record.",
            "The operator or the highway authority can supply the day of the sign check.",
            needs="signs_seen",
        )
        return
    yield _signs(say, session, number, (dates[0], seen), look.rules.find("signs_seen_days"))


def _signs(
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
            "The operator or the highway authority can say whether the signs stood on the day.",
            measured=seen.isoformat(),
            limit=first.isoformat(),
            unit="date",
            source=SOURCE,
        )
    if rule is not None and before > rule.whole:
        return say.query(
            subject,
            f"The signs of limit order {number} were last seen {before} days before session "
            f"{session.id}.",
            "The operator or the highway authority can say whether the signs stood on the day.",
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


def _limits(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """The limit noted with each reading against the order or the site record."""
    due = limit_for(look, session)
    readings = look.by_session.get(session.id, ())
    if due is None:
        if readings:
            yield say.missing(
                session.subject,
                f"The speed limit at site {session.site} is not on record.",
                _HIGHWAYS,
                needs="speed_limit",
            )
        return
    limit, source = due
    wrong = _other_limits(readings, limit)
    for stated_text, group in sorted(wrong.items()):
        numbers = [reading.number for reading in group]
        late = _order_that_set(look, session, group[0])
        yield say.failed(
            captures(numbers),
            f"A limit of {stated_text} is noted for {captures(numbers)}, but {source} sets {limit}"
            f"{late}.",
            _HIGHWAYS,
            measured=stated_text,
            limit=str(limit),
            source=source,
        )
    if readings and not wrong:
        yield say.passed(
            session.subject,
            f"The limit of {limit} applied in session {session.id} is that of {source}.",
            measured=figure(float(limit.value)),
            limit=figure(float(limit.value)),
            unit=limit.unit,
            source=source,
        )


def _other_limits(readings: Iterable[Reading], limit: Speed) -> dict[str, list[Reading]]:
    """Readings that note another limit, by that limit; one without a note agrees."""
    wrong: dict[str, list[Reading]] = {}
    equal: dict[tuple[object, ...], bool] = {}
    for reading in readings:
        values = reading.record.values
        key = (values.get("limit_mph"), values.get("limit_kmh"), values.get("limit_mps"))
        if key not in equal:
            stated = reading.record.speed("limit")
            equal[key] = stated is None or round(abs(stated.mps - limit.mps), _DIGITS) == 0
        if not equal[key]:
            wrong.setdefault(str(reading.record.speed("limit")), []).append(reading)
    return wrong


def _order_that_set(look: Look, session: Session, reading: Reading) -> str:
    """Words for an order that sets the noted limit but was not in force."""
    stated, dates = reading.record.speed("limit"), session.dates
    for order in orders_of(look, session):
        limit = order.speed("limit")
        if stated is None or limit is None or dates is None or _covers(order, dates):
            continue
        if round(abs(limit.mps - stated.mps), _DIGITS) == 0:
            until = order.values.get("until") or "no stated end"
            return (
                f"; limit order {order.text('number')} sets it, but was in force only from "
                f"{order.values.get('from')} to {until}"
            )
    return ""
