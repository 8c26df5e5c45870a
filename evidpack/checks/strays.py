"""Readings that lie clearly outside the session to which they are booked."""

from __future__ import annotations

from collections.abc import Mapping

from evidpack.checks.clock_model import Order, order
from evidpack.checks.day_parts import Session
from evidpack.checks.day_readings import all_between
from evidpack.checks.look import Look


def strays(look: Look, session: Session) -> Mapping[int, float]:
    """Capture numbers with the seconds by which they lie before the session (negative) or after it,
    on the reconciled line. Readings that lost their date are left to check 6.
    """
    start, end = look.place_typed(session.start), look.place_typed(session.end)
    found: dict[int, float] = {}
    if start is None or end is None or end.at_s < start.at_s:
        return found
    readings = look.readings_of(session)
    placed = look.placed_of(readings)
    if all_between(placed, start.at_s, end.at_s):
        return found
    for number, at_s in zip(readings.numbers, placed, strict=True):
        if at_s is None or start.at_s <= at_s <= end.at_s or number in look.rolled_readings:
            continue
        place = look.placements[number]
        if order(start, place) is Order.NO:
            found[number] = at_s - start.at_s
        elif order(place, end) is Order.NO:
            found[number] = at_s - end.at_s
    return found
