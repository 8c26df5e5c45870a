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
    plates: dict[str, list[int]] = {}
    gone = []
    for reading in look.readings:
        values = reading.record.values
        plate = values.get("plate")
        if isinstance(plate, str):
            plates.setdefault(plain(plate), []).append(reading.number)
        if values.get("discarded") is True:
            gone.append(reading)
    found = []
    for reading in gone:
        plate = reading.record.text("plate")
        same = plates.get(plain(plate), []) if plate is not None else []
        here = look.placements.get(reading.number)
        near = []
        if here is not None and reading.session is not None:
            near = [
                other.number
                for other in look.by_session[reading.session]
                if other.number != reading.number
                and (there := look.placements.get(other.number)) is not None
                and abs(there.at_s - here.at_s) <= window_s
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
