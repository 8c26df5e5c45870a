"""Was the traffic measured that the site is authorised for? Part of check 15.

A meter says approaching or receding alone. Which of them the authorised direction is depends on how
the meter stands, so the site record may say it (`target`), a set-up or a log may name the direction
of travel in the site's own words, or both.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Session
from evidpack.checks.geometry import site_of
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, upper_first
from evidpack.model.findings import Finding
from evidpack.model.records import Record

SOURCE: Final = "common practice, no source"
_WHO: Final = "The operator can say which way the vehicle went; the site file, which is authorised."
_BOTH: Final = frozenset({"both", "bothdirections", "any", "all"})


def direction_authorised(look: Look, say: Say) -> Iterator[Finding]:
    """Session by session, the direction of travel of set-up and readings against the site's."""
    silent = []
    for session in look.sessions:
        site = site_of(look, session)
        if site is None:
            continue  # site_authorised says so
        found = tuple(_session(look, say, session, site))
        yield from found
        if not found and look.by_session.get(session.id):
            silent.append(session.id)
    if silent:
        named = f"session {silent[0]}" if len(silent) == 1 else f"sessions {', '.join(silent)}"
        yield say.missing(
            "directions",
            f"Whether the authorised direction of travel was measured can't be told for {named}: "
            "the site record, or set-up and readings, don't state it so that it can be compared.",
            _WHO,
            needs="direction",
            measured=len(silent),
        )


def _session(look: Look, say: Say, session: Session, site: Record) -> Iterator[Finding]:
    direction, target = site.text("direction"), site.text("target")
    if direction is not None and plain(direction) in _BOTH:
        yield say.passed(
            session.subject,
            f"Site {session.site} is authorised for both directions of travel.",
            measured=direction,
            source=SOURCE,
        )
        return
    noted = session.record.text("direction")
    if noted is not None and direction is not None:
        yield _of_session(say, session, noted, direction)
    yield from _readings(look, say, session, "travel", direction)
    yield from _readings(look, say, session, "direction", target)


def _of_session(say: Say, session: Session, noted: str, direction: str) -> Finding:
    same = plain(noted) == plain(direction)
    words = (
        f"Session {session.id} measured {noted} traffic, and site {session.site} is authorised for"
    )
    if same:
        return say.passed(
            session.subject, f"{words} that.", measured=noted, limit=direction, source=SOURCE
        )
    return say.failed(
        session.subject,
        f"{words} {direction}.",
        _WHO,
        measured=noted,
        limit=direction,
        source=SOURCE,
    )


def _readings(
    look: Look, say: Say, session: Session, name: str, due: str | None
) -> Iterator[Finding]:
    """What readings say under `name` against what the site says, where both say something."""
    if due is None:
        return
    same: list[int] = []
    other: dict[str, list[int]] = {}
    readings = look.readings_of(session)
    for said, number in zip(readings.column(name) or (), readings.numbers, strict=False):
        if not isinstance(said, str):
            continue
        if said == due or plain(said) == plain(due):
            same.append(number)
        else:
            other.setdefault(said, []).append(number)
    for said, numbers in sorted(other.items()):
        yield say.failed(
            captures(numbers),
            f"{upper_first(said)} traffic is on record for {captures(numbers)}, but site "
            f"{session.site} is authorised for {due} traffic.",
            _WHO,
            measured=said,
            limit=due,
            source=SOURCE,
        )
    if same:
        yield say.passed(
            session.subject,
            f"{upper_first(due)} traffic, for which site {session.site} is authorised, is on record "
            f"for {captures(same)}.",
            measured=len(same),
            limit=due,
            source=SOURCE,
        )
