"""What belongs to the captures of a case: found by identifiers, in two passes over the openings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.errors import UsageError
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue

_SHOWN_CAPTURES: Final = 20
_ONE_CAPTURE: Final = re.compile(r"capture (\d+)")


@dataclass(slots=True, kw_only=True)
class Concern:
    """Everything that names the captures of a case and what they were taken with.

    `paths` are those of their stills and clips under the data folder; `other_paths` those of the
    stills and clips of other captures; `sources` the file entry and line of their readings.
    `other_names` are identifiers of sessions, sites, meters, operators, orders and certificates that
    have nothing to do with them, and names of the stills and clips of others.  `related_…` are those of discarded captures that a sealed finding says are to be considered
    beside them.
    """

    numbers: set[int] = field(default_factory=set)
    identifiers: set[str] = field(default_factory=set)
    sources: set[tuple[JsonValue, JsonValue]] = field(default_factory=set)
    paths: set[str] = field(default_factory=set)
    other_paths: set[str] = field(default_factory=set)
    sessions: set[str] = field(default_factory=set)
    meters: set[str] = field(default_factory=set)
    types: set[str] = field(default_factory=set)
    sites: set[str] = field(default_factory=set)
    operators: set[str] = field(default_factory=set)
    documents: set[str] = field(default_factory=set)
    other_names: set[str] = field(default_factory=set)
    related_sources: set[tuple[JsonValue, JsonValue]] = field(default_factory=set)
    related_paths: set[str] = field(default_factory=set)
    related_identifiers: set[str] = field(default_factory=set)

    @property
    def related_file_names(self) -> set[str]:
        """Names of the stills and clips of related captures."""
        return {path.rpartition("/")[2] for path in self.related_paths}

    @property
    def file_names(self) -> set[str]:
        """Names of their stills and clips without folders, as logs give them."""
        return {path.rpartition("/")[2] for path in self.paths}


def find_concern(bundle: SealedBundle, captures: Iterable[str]) -> Concern:
    """What belongs to these captures, each given by its identifier or its number.

    Raises UsageError for a capture that the day does not have.
    """
    wanted = tuple(dict.fromkeys(captures))
    concern = Concern()
    found: set[str] = set()
    known: list[str] = []
    others: dict[JsonValue, Mapping[str, JsonValue]] = {}
    for entry in bundle.entries():
        if entry.values.get("record_kind") == RecordKind.CAPTURE.value:
            names = _names(entry.values)
            known.append(" or ".join(names))
            if matched := found_in(names, wanted):
                found |= matched
                _take_capture(concern, entry.values)
            else:
                concern.other_paths |= _paths(entry.values)
                others[_hashable(entry.values.get("number"))] = entry.values
    if missing := [name for name in wanted if name not in found]:
        raise UsageError(
            f"the day has no capture {', '.join(missing)}",
            expected=", ".join(known[:_SHOWN_CAPTURES])
            + (f" … ({len(known)} in all)" if len(known) > _SHOWN_CAPTURES else ""),
            observed=", ".join(missing),
        )
    concern.other_paths -= concern.paths
    concern.other_names = {path.rpartition("/")[2] for path in concern.other_paths}
    concern.other_names -= concern.file_names
    _take_surroundings(concern, bundle.entries())
    _take_related(concern, bundle.entries(), others)
    _take_other_names(concern, bundle.entries())
    return concern


def found_in(names: Iterable[str], wanted: Iterable[str]) -> set[str]:
    """Which of the wanted names are among these."""
    return set(names) & set(wanted)


def _names(values: Mapping[str, JsonValue]) -> list[str]:
    """An identifier, where there is one, and the number."""
    names = [str(values.get("number"))]
    if isinstance(values.get("capture"), str):
        names.insert(0, str(values["capture"]))
    return names


def _paths(values: Mapping[str, JsonValue]) -> set[str]:
    found: set[str] = set()
    for name in ("stills", "clips"):
        listed = values.get(name)
        if isinstance(listed, list):
            found |= {path for path in listed if isinstance(path, str)}
    return found


def _take_capture(concern: Concern, values: Mapping[str, JsonValue]) -> None:
    number = values.get("number")
    if isinstance(number, int):
        concern.numbers.add(number)
    if isinstance(values.get("capture"), str):
        concern.identifiers.add(str(values["capture"]))
    if isinstance(values.get("session"), str):
        concern.sessions.add(str(values["session"]))
    concern.sources.add((values.get("source_entry"), values.get("source_line")))
    concern.paths |= _paths(values)


def _take_surroundings(concern: Concern, entries: Iterable[SealedEntry]) -> None:
    """Sessions come before or after captures, so this is a pass of its own; certificates need
    the meters and operators, so they are kept until the end."""
    certificates: list[Mapping[str, JsonValue]] = []
    for entry in entries:
        values = entry.values
        kind = values.get("record_kind")
        if kind == RecordKind.READING.value and _source(values) in concern.sources:
            _add_text(concern.meters, values.get("meter"))
        elif kind == RecordKind.SESSION.value and values.get("id") in concern.sessions:
            _add_text(concern.meters, values.get("meter"))
            _add_text(concern.sites, values.get("site"))
            _add_operators(concern, values.get("operators"))
        elif kind in (RecordKind.CERTIFICATE.value, RecordKind.METER.value):
            certificates.append(values)
    for values in certificates:
        if values.get("serial") in concern.meters and values.get("record_kind") == "meter":
            _add_text(concern.types, values.get("type"))
    for values in certificates:
        if certificate_concerns(concern, values):
            _add_text(concern.documents, values.get("document"))


def _take_related(
    concern: Concern,
    entries: Iterable[SealedEntry],
    others: Mapping[JsonValue, Mapping[str, JsonValue]],
) -> None:
    """Discarded captures of the same vehicle or near in time, as the sealed findings name them."""
    for entry in entries:
        if entry.kind != "finding" or entry.values.get("undermines") is not True:
            continue
        subject = _ONE_CAPTURE.fullmatch(str(entry.values.get("subject")))
        beside = entry.values.get("measured")
        if subject is None or not isinstance(beside, list):
            continue
        if concern.numbers & {number for number in beside if isinstance(number, int)}:
            values = others.get(int(subject[1]))
            if values is None:  # it is of the case itself
                continue
            concern.related_sources.add(_source(values))
            concern.related_paths |= _paths(values)
            _add_text(concern.related_identifiers, values.get("capture"))


def _take_other_names(concern: Concern, entries: Iterable[SealedEntry]) -> None:
    """What findings call the things of other sessions by."""
    ours = concern.sessions | concern.sites | concern.meters | concern.operators
    for entry in entries:
        values = entry.values
        name = values.get(_NAMES.get(str(values.get("record_kind")), ""))
        if not isinstance(name, str) or name in ours:
            continue
        of_site = values.get("record_kind") == RecordKind.LIMIT_ORDER.value
        if of_site and values.get("site") in concern.sites:
            continue
        certificate = values.get("record_kind") == RecordKind.CERTIFICATE.value
        if certificate and certificate_concerns(concern, values):
            continue
        concern.other_names.add(name)


_NAMES: Final = {
    RecordKind.SESSION.value: "id",
    RecordKind.SITE.value: "id",
    RecordKind.METER.value: "serial",
    RecordKind.OPERATOR.value: "id",
    RecordKind.LIMIT_ORDER.value: "number",
    RecordKind.CERTIFICATE.value: "number",
}


def _hashable(value: JsonValue) -> int | None:
    return value if isinstance(value, int) else None


def _source(values: Mapping[str, JsonValue]) -> tuple[JsonValue, JsonValue]:
    return values.get("source_entry"), values.get("source_line")


def _add_text(found: set[str], value: JsonValue) -> None:
    if isinstance(value, str):
        found.add(value)


def _add_operators(concern: Concern, operators: JsonValue) -> None:
    if isinstance(operators, list):
        for operator in operators:
            if isinstance(operator, dict):
                _add_text(concern.operators, operator.get("id"))


def certificate_concerns(concern: Concern, values: Mapping[str, JsonValue]) -> bool:
    """Whether a certificate is for a meter, a type of meter or an operator of these captures."""
    if values.get("certificate") == "operator":
        return values.get("holder") in concern.operators
    if isinstance(values.get("serial"), str):
        return values["serial"] in concern.meters
    return values.get("type") in concern.types
