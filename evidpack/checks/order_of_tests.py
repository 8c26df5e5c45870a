"""Was the meter set up when the first opinion was formed? Part of check 7."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evidpack.checks.clock_model import Order, Placement, order
from evidpack.checks.day_parts import Session
from evidpack.checks.day_readings import Readings
from evidpack.checks.look import Look
from evidpack.checks.order_of_papers import SOURCE
from evidpack.checks.saying import Say, figure
from evidpack.checks.times import duration_text
from evidpack.model.findings import Finding


def set_up_before_opinion(
    look: Look, say: Say, session: Session, readings: Readings
) -> Iterator[Finding]:
    """Set-up tests that were done between the first opinion and the first reading."""
    opinions = readings.column("opinion_time")
    tests = [place for test in look.tests_of(session) if (place := look.place(test, "time"))]
    if opinions is None or not tests:
        return
    placed = look.placed_of(readings)
    timed = sorted(
        (at_s, which)
        for which, (at_s, value) in enumerate(zip(placed, opinions, strict=True))
        if at_s is not None and value is not None
    )
    for _, which in timed:
        opinion = look.place(readings[which].record, "opinion_time")
        if opinion is not None:
            reading = look.placements[readings.numbers[which]]
            yield from _tested_late(say, session, tests, reading, opinion)
            return


def _tested_late(
    say: Say, session: Session, tests: Iterable[Placement], reading: Placement, opinion: Placement
) -> Iterator[Finding]:
    late = [
        test.at_s - opinion.at_s
        for test in tests
        if order(test, reading) is Order.YES and order(test, opinion) is Order.NO
    ]
    if late:
        yield say.query(
            session.subject,
            f"Set-up tests of session {session.id} are timed after the opinion of its first reading, "
            f"by up to {duration_text(max(late))}.",
            "The operator can say whether the meter was ready when the opinion was formed.",
            measured=figure(max(late)),
            limit=0,
            unit="s",
            source=SOURCE,
        )
