"""Records that say different things of one thing. Parts of checks 15 and 18."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Session
from evidpack.checks.limit_orders import orders_in_force
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, names
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.values import JsonValue

_SOURCE: Final = "common practice, no source"
_NAMED_BY: Final = {
    RecordKind.SESSION: "id",
    RecordKind.METER: "serial",
    RecordKind.OPERATOR: "id",
    RecordKind.SITE: "id",
    RecordKind.LIMIT_ORDER: "number",
}


def told_twice(look: Look, say: Say) -> Iterator[Finding]:
    """Two records of one session, meter, operator, site or limit order that differ: the checks read
    one of them. Certificates are compared by check 2.
    """
    for kind, key in _NAMED_BY.items():
        found: dict[str, list[Record]] = {}
        for record in look.day.of(kind):
            name = plain(record.text(key) or "")
            if name:
                found.setdefault(name, []).append(record)
        for group in found.values():
            fields = _differing(group)
            if fields:
                word = kind.value.replace("_", " ")
                named = group[0].text(key)
                yield say.query(
                    f"{word} {named}",
                    f"{len(group)} records of {word} {named} say different things: "
                    f"{names(fields)}.",
                    "Whoever typed them can say which of them stands.",
                    measured=[*fields],
                    limit=1,
                    source=_SOURCE,
                )


def _differing(group: list[Record]) -> list[str]:
    """Names of the fields that are not the same in all records."""
    stated = [_stated(one) for one in group]
    every = sorted({name for one in stated for name in one})
    return [name for name in every if any(one.get(name) != stated[0].get(name) for one in stated)]


def _stated(record: Record) -> Mapping[str, JsonValue]:
    """What a record says, but for who typed it, with names as they are compared."""
    key = _NAMED_BY[record.kind]
    return {
        name: plain(value) if name == key and isinstance(value, str) else value
        for name, value in record.values.items()
        if not name.startswith("typed")
    }


def orders_at_once(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """Limit orders in force together for one site that set different limits."""
    orders = orders_in_force(look, session)
    limits = {one.text("number") or "without number": one.speed("limit") for one in orders}
    speeds = {round(limit.mps, 6) for limit in limits.values() if limit is not None}
    if len(speeds) > 1:
        stated = [f"{number} {limit}" for number, limit in sorted(limits.items())]
        yield say.query(
            session.subject,
            f"Limit orders that set different limits were in force together at site {session.site}: "
            f"{names(stated)}.",
            "The highway authority can say which of them applied.",
            measured=[*stated],
            limit=1,
            source=_SOURCE,
        )
