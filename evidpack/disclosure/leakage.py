"""No text of a pack may hold a value that the pack withholds.

Two kinds of value are looked for.  What is closed in an entry that is otherwise shown (and the name
and digest of a redacted still) may stand nowhere, not even as a field of another entry.  What
belongs to withheld entries may stand in no text, unless the pack opens the same value elsewhere: a
session's identifier is in other people's rows too and no secret.  The name of a withheld file is one,
unless a file that is shown has the same.  What a finding measured of a withheld capture goes with its
sentence (`finding_numbers`).

Which values tell is `telling_values`' to say.  What can be viewed by appointment is not withheld
from this recipient.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import Final

from evidpack.disclosure.finding_numbers import (
    captures_it_is_about,
    fields_to_close_too,
    noting_captures,
)
from evidpack.disclosure.ranges import format_ranges
from evidpack.disclosure.sealed_bundle import SealedEntry
from evidpack.disclosure.telling_values import numbers_with_units, telling_values
from evidpack.disclosure.texts import texts_in
from evidpack.disclosure.value_index import ValueIndex
from evidpack.model.values import JsonValue

# The time of a copy is that of many files, and a thumbnail usually agrees: that another has the same
# tells nothing.
_SAME_FOR_MANY: Final = frozenset({"modified", "thumbnail_correlation"})
_NUMBER: Final = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text that is to go into the pack, and where it would stand. `entry` is the one that it is
    about, None where it is about the whole pack."""

    place: str
    text: str
    entry: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """An entry that is to be shown, with all its values and the fields that stay closed."""

    number: int
    kind: str
    values: Mapping[str, JsonValue]
    closed: Collection[str]

    @property
    def opened(self) -> dict[str, JsonValue]:
        """The values that the pack shows."""
        return {name: value for name, value in self.values.items() if name not in self.closed}


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """A text, or a field of a shown entry, that names what other entries withhold (`withheld`, in
    order). `field` is None for a text; `kind` is the entry's, None for a text. `tie` says how the place
    hangs together with what is withheld."""

    place: str
    kind: str | None
    entry: int | None
    field: str | None
    withheld: Sequence[int]
    tie: str = "names"

    def __str__(self) -> str:
        """Where it stands, and whose value it is; never the value."""
        return f"{self.place}: {self.tie} what entry {format_ranges([*self.withheld])} withholds"


def find_leaks(
    entries: Iterable[SealedEntry],
    shown: Sequence[Shown],
    inspected: Collection[int],
    texts: Iterable[Text],
) -> Sequence[Leak]:
    """Every text, and every opened field, that holds a value which is withheld.

    `entries` are all entries of the day; those that are neither shown nor inspected are withheld.
    """
    passed = {one.number for one in shown}.union(inspected)
    captures: dict[int, int] = {}
    withheld = (entry for entry in entries if entry.number not in passed)
    index = _index(noting_captures(withheld, captures), shown)
    found = [
        Leak(place=text.place, kind=None, entry=text.entry, field=None, withheld=sorted(numbers))
        for text in texts
        if (numbers := index.find(text.text))
    ]
    for one in shown:
        of_one = list(_told(one, index))
        found.extend(of_one)
        found.extend(_measured(one, captures, {leak.field for leak in of_one if leak.field}))
    found.extend(_repeated(shown))
    return found


def _told(one: Shown, index: ValueIndex) -> Iterator[Leak]:
    for name, value in one.opened.items():
        told = [*texts_in(value), *_quantities(one, name)]
        numbers = {number for text in told for number in index.find(text)}
        if numbers:
            yield _of_field(one, name, numbers)


def _measured(one: Shown, captures: Mapping[int, int], telling: AbstractSet[str]) -> Iterator[Leak]:
    """What a finding about a withheld capture would still tell beside its closed fields."""
    if one.kind != "finding":
        return
    about = captures_it_is_about(one.values, captures)
    if about:
        for name in fields_to_close_too(one.values, frozenset(one.closed), telling):
            yield replace(_of_field(one, name, about), tie="belongs to")


def _quantities(one: Shown, name: str) -> Iterator[str]:
    """What a finding measured, and its limit, with the finding's unit."""
    unit = one.values.get("unit")
    if one.kind != "finding" or name not in ("measured", "limit") or not isinstance(unit, str):
        return
    for text in _scalars({name: one.values[name]}):
        for number in _NUMBER.findall(text):
            yield f"{float(number):g} {unit}"


def _of_field(one: Shown, name: str, withheld: Iterable[int]) -> Leak:
    return Leak(
        place=f"field {name} of entry {one.number}",
        kind=one.kind,
        entry=one.number,
        field=name,
        withheld=sorted(withheld),
    )


def _index(withheld: Iterable[SealedEntry], shown: Sequence[Shown]) -> ValueIndex:
    """What is closed, and what withheld entries tell, but for what is opened elsewhere."""
    opened = {text for one in shown for text in _opened_texts(one.opened)}
    names = {
        text
        for one in shown
        if one.kind == "file"
        for name, value in one.opened.items()
        for text in _names(name, value)
    }
    opened |= names  # who sees a file's path knows its name
    index = ValueIndex()
    for one in shown:
        for name in one.closed:
            for text in _closed_texts(name, one.values[name]):
                index.add(text, one.number)
    for entry in withheld:
        # A record that names a withheld file does not make the name known.
        known = names if entry.kind == "file" else opened
        for text in telling_values(entry):
            if text not in known:
                index.add(text, entry.number)
    return index


def _opened_texts(opened: Mapping[str, JsonValue]) -> Iterator[str]:
    """Every text and number inside opened values as text, numbers with their units too."""
    yield from _scalars(opened)
    for name, value in opened.items():
        if isinstance(value, int | float) and not isinstance(value, bool):
            yield from numbers_with_units(name, value)


def _scalars(value: JsonValue | Mapping[str, JsonValue]) -> Iterator[str]:
    if isinstance(value, Mapping):
        for one in value.values():
            yield from _scalars(one)
    elif isinstance(value, list):
        for one in value:
            yield from _scalars(one)
    elif isinstance(value, str):
        yield value
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield repr(value)


def _closed_texts(name: str, value: JsonValue) -> Iterator[str]:
    if name in _SAME_FOR_MANY:
        return
    yield from _names(name, value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        yield from numbers_with_units(name, value)


def _names(name: str, value: JsonValue) -> Iterator[str]:
    """Texts, and of a path the file's name too."""
    for text in texts_in(value):
        yield text
        if name == "path":
            yield text.rpartition("/")[2]


def _repeated(shown: Iterable[Shown]) -> Iterator[Leak]:
    """Numbers that are closed in one record and open under the same name in another.

    Texts are found as texts; a number is only the same thing under the same name.
    """
    closed: dict[tuple[str, str], set[int]] = {}
    records = [one for one in shown if one.kind == "record"]
    for one in records:
        for name in one.closed:
            value = one.values[name]
            if (
                name not in _SAME_FOR_MANY
                and isinstance(value, int | float)
                and not isinstance(value, bool)
            ):
                closed.setdefault((name, repr(value)), set()).add(one.number)
    for one in records:
        for name, value in one.opened.items():
            if isinstance(value, int | float) and (name, repr(value)) in closed:
                yield _of_field(one, name, closed[(name, repr(value))])
