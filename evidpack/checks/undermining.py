"""Which discarded captures have to be considered for disclosure beside another capture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.look import Look
from evidpack.model.day import Day
from evidpack.rules.rule_values import RuleSet


@dataclass(frozen=True, slots=True, kw_only=True)
class Related:
    """What makes a discarded capture related to others: capture numbers, never plates."""

    number: int
    same_plate: tuple[int, ...]
    near: tuple[int, ...]  # same session, within the rule set's window


def related_discards(look: Look) -> tuple[Related, ...]:
    """Every discarded capture with the captures that it may concern."""
    window_s = look.rules.value("discarded_window").number
    readings = look.readings
    discarded = readings.column("discarded") or ()
    gone = [place for place, one in enumerate(discarded) if one is True]
    if not gone:
        return ()
    plates: dict[str, list[int]] = {}
    for plate, number in zip(readings.column("plate") or (), readings.numbers, strict=False):
        if isinstance(plate, str):
            plates.setdefault(plain(plate), []).append(number)
    found = []
    for place in gone:
        reading = readings[place]
        plate = reading.record.text("plate")
        same = plates.get(plain(plate), []) if plate is not None else []
        here_s = look.placed_s[place]
        near = []
        if here_s is not None and reading.session is not None:
            others = look.by_session[reading.session]
            near = [
                number
                for number, there_s in zip(others.numbers, look.placed_of(others), strict=True)
                if there_s is not None
                and abs(there_s - here_s) <= window_s
                and number != reading.number
            ]
        found.append(
            Related(
                number=reading.number,
                same_plate=tuple(number for number in same if number != reading.number),
                near=tuple(near),
            )
        )
    return tuple(found)


def discarded_beside(day: Day, rules: RuleSet) -> Mapping[int, tuple[int, ...]]:
    """For each capture, the discarded captures to be considered when it is disclosed."""
    found: dict[int, set[int]] = {}
    for related in related_discards(Look(day, rules)):
        for number in (*related.same_plate, *related.near):
            found.setdefault(number, set()).add(related.number)
    return {number: tuple(sorted(found[number])) for number in sorted(found)}
