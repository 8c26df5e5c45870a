"""Speed limit orders: which was in force, and which limit applied."""

from __future__ import annotations

from datetime import date

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Session
from evidpack.checks.geometry import site_of
from evidpack.checks.look import Look
from evidpack.checks.times import read_date
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from evidpack.model.units import Speed


def orders_of(look: Look, session: Session) -> tuple[Record, ...]:
    """Limit orders for the site of a session, the latest first."""
    found = [
        record
        for record in look.day.of(RecordKind.LIMIT_ORDER)
        if plain(record.text("site") or "") == plain(session.site)
    ]
    return tuple(
        sorted(
            found, key=lambda one: (str(one.values.get("from", "")), one.source.order), reverse=True
        )
    )


def orders_in_force(look: Look, session: Session) -> tuple[Record, ...]:
    """Limit orders that cover the dates of a session, the latest first."""
    dates = session.dates
    if dates is None:
        return ()
    return tuple(record for record in orders_of(look, session) if covers(record, dates))


def order_in_force(look: Look, session: Session) -> Record | None:
    """The latest limit order that covers the dates of a session, or None."""
    return next(iter(orders_in_force(look, session)), None)


def covers(order: Record, dates: tuple[date, date]) -> bool:
    """Whether an order was in force from the first to the last date of a session."""
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
