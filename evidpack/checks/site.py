"""Was the site authorised, with the limit that was applied? Check 15."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from typing import Final

from evidpack.checks.contradictions import orders_at_once
from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.day_readings import Readings
from evidpack.checks.directions import direction_authorised
from evidpack.checks.geometry import site_of
from evidpack.checks.limit_orders import covers, limit_for, orders_of
from evidpack.checks.look import Look
from evidpack.checks.position import nearest_site, stood_at_site
from evidpack.checks.saying import Say, captures, figure, upper_first
from evidpack.checks.signs import signs_in_place
from evidpack.checks.times import read_date
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.units import Speed

SOURCE: Final = "common practice, no source"
_HIGHWAYS: Final = "The highway authority or the unit's site register can supply it."
_DIGITS: Final = 6


def site_authorised(look: Look, say: Say) -> Iterator[Finding]:
    """Check 15: site, dates, speed limit, order, signs, position and direction."""
    for session in look.sessions:
        site = site_of(look, session)
        if site is None:
            yield _unknown(look, say, session)
            continue
        yield from _dates(say, session, site)
        yield from orders_at_once(look, say, session)
        yield from _backward_orders(look, say, session)
        yield from signs_in_place(look, say, session)
        yield from _limits(look, say, session)
    yield from stood_at_site(look, say)
    yield from direction_authorised(look, say)


def _unknown(look: Look, say: Say, session: Session) -> Finding:
    """A site that is not on record: beside others, beside one that lies near, or without any."""
    known = look.day.of(RecordKind.SITE)
    if not known:
        return say.missing(
            session.subject,
            f"There is no record of site {session.site} of session {session.id}.",
            _HIGHWAYS,
            needs="site",
        )
    sentence = (
        f"Session {session.id} was done at site {session.site}, which is none of the {len(known)} "
        "sites on record"
    )
    near, rule = nearest_site(look, session), look.rules.find("site_distance_limit")
    if near is not None and rule is not None and near[1] <= rule.metres:
        return say.query(
            session.subject,
            f"{sentence}; the meter stood {figure(near[1], 1):g} m from site {near[0].text('id')}.",
            "The operator can say whether that is the site that was meant.",
            measured=figure(near[1], 1),
            rule=rule,
            limit=rule.metres,
            unit="m",
        )
    return say.failed(
        session.subject, f"{sentence}.", _HIGHWAYS, measured=session.site, source=SOURCE
    )


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


def _backward_orders(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """Orders that end before they begin were never in force; somebody mistyped a date."""
    for order in orders_of(look, session):
        first, last = read_date(order.values.get("from")), read_date(order.values.get("until"))
        if first is None or last is None or first <= last:
            continue
        subject = f"limit order {order.text('number') or 'without number'}"
        yield say.query(
            subject,
            f"{upper_first(subject)} is in force from {first} to {last}, which ends before it begins.",
            _HIGHWAYS,
            measured=last.isoformat(),
            limit=first.isoformat(),
            unit="date",
            source=SOURCE,
        )


def _limits(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """The limit noted with each reading against the order or the site record."""
    due = limit_for(look, session)
    readings = look.readings_of(session)
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
    for stated_text, numbers in sorted(wrong.items()):
        late = _order_that_set(look, session, next(readings.with_numbers(numbers[:1])))
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


def _other_limits(readings: Readings, limit: Speed) -> dict[str, list[int]]:
    """Capture numbers of readings that note another limit, by that limit; one without a note
    agrees.
    """
    wrong: dict[str, list[int]] = {}
    stated_by: dict[Hashable, str | None] = {}  # the limit noted, where it is another
    for place, key in enumerate(readings.keys("limit_mph", "limit_kmh", "limit_mps")):
        if key not in stated_by:
            stated = readings[place].record.speed("limit")
            agrees = stated is None or round(abs(stated.mps - limit.mps), _DIGITS) == 0
            stated_by[key] = None if agrees else str(stated)
        other = stated_by[key]
        if other is not None:
            wrong.setdefault(other, []).append(readings.numbers[place])
    return wrong


def _order_that_set(look: Look, session: Session, reading: Reading) -> str:
    """Words for an order that sets the noted limit but was not in force."""
    stated, dates = reading.record.speed("limit"), session.dates
    for order in orders_of(look, session):
        limit = order.speed("limit")
        if stated is None or limit is None or dates is None or covers(order, dates):
            continue
        if round(abs(limit.mps - stated.mps), _DIGITS) == 0:
            until = order.values.get("until") or "no stated end"
            return (
                f"; limit order {order.text('number')} sets it, but was in force only from "
                f"{order.values.get('from')} to {until}"
            )
    return ""
