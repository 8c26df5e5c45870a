"""No text of a pack may hold a value that the pack withholds.

Two kinds of value are looked for.  What is closed in an entry that is otherwise shown (and the name
and digest of a redacted still) may stand nowhere, not even as a field of another entry.  What
belongs to withheld entries may stand in no text, unless the pack opens the same value elsewhere: a
session's identifier is in other people's rows too and no secret.

Words that everybody's rows share (pass, approaching, yes) are no secret either, nor are the fixed
names of office files: a value is looked for where it tells somebody or something from another.  A
number is looked for with its unit, since by itself it may be anything.  What can be viewed by
appointment is not withheld from this recipient.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.container import layout
from evidpack.disclosure.decisions import format_ranges
from evidpack.disclosure.plan import Plan, Revealed
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.disclosure.texts import texts_in
from evidpack.errors import EvidpackError
from evidpack.model.fields import FIELDS, FieldType, RecordKind
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import Became
from evidpack.proof.entries import RAW_PREFIX

_WORD: Final = re.compile(r"\w+", re.UNICODE)
_MIN_CHARACTERS: Final = 3
_UNITS: Final = {"_mph": ("mph",), "_kmh": ("km/h", "kmh", "kph"), "_mps": ("m/s",)}
_FILE_FIELDS: Final = frozenset({"path", "original_name", "sha256"})
_FIXED_NAMES: Final = frozenset(
    {
        layout.OFFICE_DAY,
        layout.OFFICE_PROFILE,
        layout.OFFICE_RULES,
        layout.OFFICE_NOTES,
        layout.OFFICE_RUNS,
        layout.OFFICE_SEALING,
    }
)
_PLAIN: Final = frozenset({"record_kind", "item_kind", "origin", "decoder"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text that is to go into the pack, and where it would stand."""

    place: str
    text: str


class LeakError(EvidpackError):
    """A text of the pack would hold a value that the pack withholds; `places` says where."""

    def __init__(self, places: Sequence[str]) -> None:
        super().__init__(
            f"{len(places)} texts would give away what the pack withholds, so no pack is made",
            hint="Write these anew, close the fields, or release what they name:\n"
            + "\n".join(places[:50]),
        )
        self.places = tuple(places)


def require_no_leak(bundle: SealedBundle, plan: Plan, texts: Iterable[Text]) -> None:
    """Look through every text, and every opened value, of a pack that is being made.

    Raises LeakError, which names where each value stood and which entry it belongs to, and does
    not repeat the value.
    """
    opened = {scalar for one in plan.revealed for scalar in _scalars(one.opened)}
    opened |= {
        text
        for one in plan.revealed
        for name, value in one.opened.items()
        if isinstance(value, int | float) and not isinstance(value, bool)
        for text in _with_units(name, value)
    }
    index = _Index()
    for one in plan.revealed:
        for name in one.line.closed:
            _add_closed(index, one, name)
    passed = plan.revealed_numbers | {
        line.entry for line in plan.lines if line.became is Became.INSPECT
    }
    for entry in bundle.entries():
        if entry.number not in passed:
            for value in _telling(entry):
                if value not in opened:
                    index.add(value, entry.number)
    places = [
        f"{text.place}: names what entry {format_ranges(sorted(numbers))} withholds"
        for text in (*texts, *_typed_texts(plan), *_opened_texts(plan.revealed))
        if (numbers := index.find(text.text))
    ]
    places += _repeated(plan)
    if places:
        raise LeakError(places)


class _Index:
    """Values by their first word, so that a text is compared with few of them."""

    def __init__(self) -> None:
        self._by_word: dict[str, dict[str, set[int]]] = {}

    def add(self, value: str, entry: int) -> None:
        """Look for this value, of this entry."""
        folded = _folded(value)
        words = _WORD.findall(folded)
        if words and len(folded) >= _MIN_CHARACTERS:
            self._by_word.setdefault(words[0], {}).setdefault(folded, set()).add(entry)

    def find(self, text: str) -> set[int]:
        """The entries a value of which stands in the text, as whole words."""
        folded = _folded(text)
        found: set[int] = set()
        for word in set(_WORD.findall(folded)):
            for value, entries in self._by_word.get(word, {}).items():
                if _stands_in(value, folded):
                    found |= entries
        return found


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _stands_in(value: str, text: str) -> bool:
    """Whether the value stands in the text, not as a part of a longer word or number."""
    at = text.find(value)
    while at >= 0:
        before, after = text[at - 1 : at], text[at + len(value) : at + len(value) + 1]
        if not (_joins(before, value[0]) or _joins(after, value[-1])):
            return True
        at = text.find(value, at + 1)
    return False


def _joins(neighbour: str, edge: str) -> bool:
    return neighbour.isalnum() and edge.isalnum()


def _scalars(value: JsonValue | Mapping[str, JsonValue]) -> Iterator[str]:
    """Every text and number inside opened values, as text."""
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


def _telling(entry: SealedEntry) -> Iterator[str]:
    """The values of a withheld entry that tell it from others."""
    for name, value in entry.values.items():
        if name in _PLAIN:
            continue
        if isinstance(value, int | float) and not isinstance(value, bool):
            yield from _with_units(name, value)
            continue
        for text in texts_in(value):
            if _tells(entry, name, text):
                yield text
                if name == "path":
                    yield text.rpartition("/")[2]


def _is_number(text: str) -> bool:
    try:
        float(text.strip().replace(",", "."))
    except ValueError:
        return False
    return True


def _with_units(name: str, value: float) -> Iterator[str]:
    """A speed is looked for with its unit: a bare number may be anything."""
    for suffix, units in _UNITS.items():
        if name.endswith(suffix):
            for unit in units:
                yield f"{value:g} {unit}"
                yield f"{value:g}{unit}"


def _tells(entry: SealedEntry, name: str, text: str) -> bool:
    """A text field, a name of a file, a cell with a digit or several words."""
    if len(text.strip()) < _MIN_CHARACTERS:
        return False
    if entry.kind == "file":
        return name in _FILE_FIELDS and text not in _FIXED_NAMES
    if entry.kind == "finding":
        return name in {"sentence", "advice"} and " " in text
    if name.startswith(RAW_PREFIX):
        return not _is_number(text) and (
            any(mark.isdigit() for mark in text) or len(text.split()) > 1
        )
    field = FIELDS.get(_kind(entry), {}).get(name)
    if field is not None and field.type is FieldType.CHOICE:
        return False
    is_text = field is not None and field.type is FieldType.TEXT
    return is_text or any(mark.isdigit() for mark in text) or "/" in text


def _kind(entry: SealedEntry) -> RecordKind:
    try:
        return RecordKind(str(entry.values.get("record_kind")))
    except ValueError:
        return RecordKind.NOTE


def _add_closed(index: _Index, one: Revealed, name: str) -> None:
    value = one.values[name]
    if name == "modified":  # the time of a copy is that of many files, and tells none
        return
    for text in texts_in(value):
        index.add(text, one.number)
        if name == "path":
            index.add(text.rpartition("/")[2], one.number)
    if isinstance(value, int | float) and not isinstance(value, bool):
        for text in _with_units(name, value):
            index.add(text, one.number)


def _typed_texts(plan: Plan) -> Iterator[Text]:
    """What people wrote about entries."""
    for line in plan.lines:
        if line.neutral:
            continue
        yield Text(place=f"description of entry {line.entry}", text=line.description or "")
        yield Text(place=f"reason of entry {line.entry}", text=line.reason)
    for order in plan.redactions.values():
        yield Text(place=f"reason of the redaction of entry {order.entry}", text=order.reason)


def _opened_texts(revealed: Iterable[Revealed]) -> Iterator[Text]:
    """Every text inside an opened value."""
    for one in revealed:
        for name, value in one.opened.items():
            for text in texts_in(value):
                yield Text(place=f"field {name} of entry {one.number}", text=text)


def _repeated(plan: Plan) -> list[str]:
    """Numbers that are closed in one entry and open under the same name in another.

    Texts are found as texts; a number is only the same thing under the same name.
    """
    closed: dict[tuple[str, str], set[int]] = {}
    records = [one for one in plan.revealed if one.line.kind == "record"]
    for one in records:
        for name in one.line.closed:
            value = one.values[name]
            if isinstance(value, int | float) and not isinstance(value, bool):
                closed.setdefault((name, repr(value)), set()).add(one.number)
    return [
        f"field {name} of entry {one.number}: the same number is closed in entry "
        f"{format_ranges(sorted(closed[(name, repr(value))]))}"
        for one in records
        for name, value in one.opened.items()
        if isinstance(value, int | float) and (name, repr(value)) in closed
    ]
