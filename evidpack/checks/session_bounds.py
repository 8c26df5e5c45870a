"""Do readings lie within their session, and a meter in one place at a time? Part of check 7."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.day_parts import Session
from evidpack.checks.day_readings import Readings
from evidpack.checks.look import Look
from evidpack.checks.order_of_papers import SOURCE
from evidpack.checks.saying import Say, captures, figure, upper_first
from evidpack.checks.strays import strays
from evidpack.checks.times import duration_text
from evidpack.model.findings import Finding


def within_session(look: Look, say: Say, session: Session, readings: Readings) -> Iterator[Finding]:
    """A pass where all readings lie within their session, else a query."""
    start, end = look.place_typed(session.start), look.place_typed(session.end)
    if start is None or end is None:
        return
    if end.at_s < start.at_s:
        yield say.query(
            session.subject,
            f"Session {session.id} ends {duration_text(start.at_s - end.at_s)} before it begins.",
            "The operator can say when the session was; day.toml can then be put right.",
            measured=figure(end.at_s - start.at_s),
            limit=0,
            unit="s",
            source=SOURCE,
        )
        return
    away = strays(look, session)
    timed = len(readings) - look.placed_of(readings).count(None)
    if away:
        yield _outside(look, say, session, sorted(away), list(away.values()))
    elif timed:
        yield say.passed(
            session.subject,
            f"All {timed} timed readings lie within session {session.id}.",
            measured=timed,
            source=SOURCE,
        )


def one_place_at_a_time(look: Look, say: Say) -> Iterator[Finding]:
    """Sessions of one meter at two places at one time."""
    timed = [
        (begun.at_s, ended.at_s, session)
        for session in look.sessions
        if (begun := look.place_typed(session.start)) is not None
        and (ended := look.place_typed(session.end)) is not None
    ]
    timed.sort(key=lambda one: (one[0], one[2].id))
    slack = look.resolution_s(None)
    for place, (_, end, first) in enumerate(timed):
        for start, _, second in timed[place + 1 :]:
            same = plain(first.id) == plain(second.id)  # check 18 says that it stands twice
            if same or plain(first.meter) != plain(second.meter) or start >= end - slack:
                continue
            yield say.query(
                f"sessions {first.id} and {second.id}",
                f"Session {second.id} begins {duration_text(end - start)} before session {first.id} "
                f"ends, and both used meter {first.meter}.",
                "The operator can say when the meter was moved, and where it was between.",
                measured=figure(end - start),
                limit=0,
                unit="s",
                source=SOURCE,
            )


def _outside(
    look: Look, say: Say, session: Session, outside: list[int], away: list[float]
) -> Finding:
    far = max(away, key=abs)
    times = [one for one in look.placed_of(look.readings_of(session)) if one is not None]
    return say.query(
        session.subject,
        f"{upper_first(captures(outside))} {'lies' if len(outside) == 1 else 'lie'} outside session {session.id}, by up to "
        f"{duration_text(far)}{_hours_out(look, times, [session])}.",
        "The operator can say when the session was and to which zone the clock was set.",
        measured=figure(far),
        limit=0,
        unit="s",
        source=SOURCE,
    )


def _hours_out(look: Look, times: Iterable[float], sessions: Iterable[Session]) -> str:
    """By how many whole hours all times have to be shifted to lie in sessions, in words."""
    times, sessions = tuple(times), tuple(sessions)
    slack = look.resolution_s(None)
    for hours in sorted(range(-14, 15), key=abs)[1:]:
        if all(
            any(session.contains(time - hours * 3_600, slack) for session in sessions)
            for time in times
        ):
            word = "ahead" if hours > 0 else "behind"
            plural = "hour" if abs(hours) == 1 else "hours"
            return f"; all would lie inside if the clock was {abs(hours)} {plural} {word}"
    return ""


def without_session(look: Look, say: Say) -> Iterator[Finding]:
    """Readings that are booked to no session on record."""
    known = {session.id for session in look.sessions}
    groups = [group for name, group in look.by_session.items() if name not in known]
    lost = [number for group in groups for number in group.numbers]
    if lost:
        times = [at_s for group in groups for at_s in look.placed_of(group) if at_s is not None]
        verb = "belongs" if len(lost) == 1 else "belong"
        yield say.query(
            captures(lost),
            f"{upper_first(captures(lost))} {verb} to no session that is on record"
            f"{_hours_out(look, times, look.sessions) if times else ''}.",
            "The operator can say in which session they were taken, or that a session is missing.",
            measured=len(lost),
            limit=0,
            source=SOURCE,
        )
