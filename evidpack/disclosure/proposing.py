"""What is proposed for each entry. A proposal is a starting point: people decide.

Other people's captures are proposed to be withheld.  Left undecided, with a proposal beside it, is
whatever may undermine or assist, whatever is opaque and may hold others, and whatever is neither
about the captures of the case nor about other people.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from evidpack.disclosure.concern import Concern
from evidpack.disclosure.finding_rules import propose_for_finding
from evidpack.disclosure.proposal import (
    CAPTURE,
    CLOSED,
    DEVICE,
    MIXED,
    NEEDED,
    OTHER_SESSION,
    OTHERS,
    RELATED,
    Proposal,
)
from evidpack.disclosure.record_rules import propose_for_record
from evidpack.disclosure.sealed_bundle import SealedEntry
from evidpack.model.records import ItemKind

_EXPORT: Final = "export/"
# Rows of several people stand in each; a run log tells findings about all captures.
_MIXING: Final = frozenset(
    {
        ItemKind.DESCRIPTION.value,
        ItemKind.UNIT.value,
        ItemKind.NOTES.value,
        ItemKind.RUN_LOG.value,
    }
)


def propose(entry: SealedEntry, concern: Concern, released_logs: frozenset[int]) -> Proposal:
    """A proposal for one entry; `released_logs` are the entries of logs without other people's
    rows, which may be released whole."""
    if entry.kind == "file":
        return _file(entry, concern, released_logs)
    if entry.kind == "finding":
        return propose_for_finding(entry.values, concern)
    return propose_for_record(entry.values, concern)


def _file(entry: SealedEntry, concern: Concern, released_logs: frozenset[int]) -> Proposal:
    path = str(entry.values.get("path"))
    kind = str(entry.values.get("item_kind"))
    if path in concern.paths:
        return CAPTURE
    if path in concern.related_paths:
        return RELATED
    if kind == ItemKind.STILL.value or path in concern.other_paths:
        return OTHERS
    if kind == ItemKind.CERTIFICATE.value:
        relevant = not concern.documents or path.removeprefix(_EXPORT) in concern.documents
        return DEVICE if relevant else OTHER_SESSION
    if kind in (ItemKind.PROFILE.value, ItemKind.RULES.value):
        return NEEDED
    if kind == ItemKind.SEALING.value:
        return CLOSED
    if kind == ItemKind.LOG.value:
        return DEVICE if entry.number in released_logs else MIXED
    if kind in _MIXING:
        return MIXED
    return _opaque(kind, path)


def _opaque(kind: str, path: str) -> Proposal:
    """A file that evidpack cannot look into: a person must."""
    what = {
        ItemKind.REPORT.value: "the report of the day",
        ItemKind.CLIP.value: "a clip that is not cut to one capture",
        ItemKind.AUDIO.value: "a sound recording",
        ItemKind.DOCUMENT.value: "a document",
    }.get(kind, "a file that nobody has described")
    return Proposal(
        group=f"{what}, {path}",
        use="unused",
        what="inspect",
        reason="may-hold-others",
        undecided=True,
        description=what[0].upper() + what[1:] + ".",
    )


def logs_without_others(
    proposals: Mapping[int, Proposal], rows: Mapping[int, tuple[int, ...]]
) -> frozenset[int]:
    """Entries of logs all of whose rows are proposed for release; `rows` gives the records of
    each log by the number of its entry."""
    return frozenset(
        log
        for log, numbers in rows.items()
        if numbers
        and all(
            proposals[number].what == "release" and not proposals[number].undecided
            for number in numbers
        )
    )
