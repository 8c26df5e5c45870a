"""To close a field is to close its raw cells and whatever else is read from them.

Which cells give which value is found by asking intake: a cell is left out, and what changes comes
from it.  Where nobody knows how a record was read, a cell with the same text is a twin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from evidpack.intake.description import DayDescription
from evidpack.intake.intake import normalise_cells
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue
from evidpack.proof.entries import RAW_PREFIX

# What says where a record stood, not what it says.
PLACE_FIELDS = frozenset({"record_kind", "source_entry", "source_line", "place"})


def with_twins(
    closed: Iterable[str],
    values: Mapping[str, JsonValue],
    *,
    source_path: str,
    description: DayDescription | None,
) -> frozenset[str]:
    """The fields to be closed, with their twins; those that the entry does not have left out.

    `values` are all values of a record entry, `source_path` the path of its file.
    """
    links = _links(values, source_path, description)
    found = {name for name in closed if name in values}
    while more := _neighbours(found, links, values) - found:
        found |= more
    return frozenset(found)


def _neighbours(
    found: set[str], links: Mapping[str, frozenset[str]], values: Mapping[str, JsonValue]
) -> set[str]:
    near = {other for name in found for other in links.get(name, frozenset())}
    texts = {_text(values[name]) for name in found} - {""}
    near |= {
        name for name, value in values.items() if name not in PLACE_FIELDS and _text(value) in texts
    }
    return near


def _text(value: JsonValue) -> str:
    """A text long enough to tell anything, to find it again in another cell."""
    text = value.strip() if isinstance(value, str) else ""
    return text if len(text) > 1 else ""


def _links(
    values: Mapping[str, JsonValue], source_path: str, description: DayDescription | None
) -> Mapping[str, frozenset[str]]:
    """For each raw cell the values that come from it, and for each value its cells."""
    raw = {
        name.removeprefix(RAW_PREFIX): value
        for name, value in values.items()
        if name.startswith(RAW_PREFIX) and isinstance(value, str)
    }
    if description is None or not raw:
        return {}
    kind = RecordKind(str(values.get("record_kind")))
    whole = normalise_cells(description, kind, source_path, raw)
    links: dict[str, set[str]] = {}
    for column in raw:
        without = {name: cell for name, cell in raw.items() if name != column}
        partly = normalise_cells(description, kind, source_path, without)
        for name in _changed(whole, partly):
            links.setdefault(RAW_PREFIX + column, set()).add(name)
            links.setdefault(name, set()).add(RAW_PREFIX + column)
    return {name: frozenset(others) for name, others in links.items()}


def _changed(
    whole: tuple[Mapping[str, JsonValue], ...], partly: tuple[Mapping[str, JsonValue], ...]
) -> set[str]:
    """Names of values that are other, or gone, in the second reading."""
    if len(whole) != len(partly):
        return {name for answer in whole for name in answer}
    return {
        name
        for before, after in zip(whole, partly, strict=True)
        for name in before
        if before[name] != after.get(name)
    }
