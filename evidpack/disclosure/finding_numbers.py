"""What a finding about a withheld capture tells goes together: its sentence, what was measured, and
the limit.  A bare number is in no text of a withheld entry that could be searched for, yet beside
the subject it is somebody else's speed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from typing import Final

from evidpack.disclosure.named_captures import named_captures
from evidpack.disclosure.sealed_bundle import SealedEntry
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue

_TOGETHER: Final[tuple[str, ...]] = ("measured", "limit", "sentence")


def noting_captures(
    withheld: Iterable[SealedEntry], found: dict[int, int]
) -> Iterator[SealedEntry]:
    """The entries as they pass; `found` gets the number of each capture among them, and its entry."""
    for entry in withheld:
        number = entry.values.get("number")
        if entry.values.get("record_kind") == RecordKind.CAPTURE.value and isinstance(number, int):
            found[number] = entry.number
        yield entry


def captures_it_is_about(
    values: Mapping[str, JsonValue], withheld: Mapping[int, int]
) -> frozenset[int]:
    """The entries of the withheld captures (`withheld`, entries by number) that a finding is about:
    those that its subject names, or its sentence where the subject names none. Where some are only
    counted ("and 5 more"), any may be among them."""
    named = named_captures(str(values.get("subject")))
    named = named or named_captures(str(values.get("sentence")))
    return frozenset(entry for number, entry in withheld.items() if named.may_be_among({number}))


def fields_to_close_too(
    values: Mapping[str, JsonValue], closed: AbstractSet[str], telling: AbstractSet[str]
) -> tuple[str, ...]:
    """The fields of a finding about a withheld capture that must not stay open either.

    Where one of measured, limit and sentence is `telling` (it holds what is withheld), all are to
    be closed; where a person has closed the sentence, what was measured is. An empty field tells
    nothing.
    """
    if not telling.isdisjoint(_TOGETHER):
        wanted: tuple[str, ...] = _TOGETHER
    elif "sentence" in closed:
        wanted = ("measured",)
    else:
        return ()
    return tuple(
        name
        for name in wanted
        if name not in closed and name not in telling and values.get(name) is not None
    )
