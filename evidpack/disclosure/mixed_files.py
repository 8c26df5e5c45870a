"""Files that mix people, told apart for a reader who is not to see them: what kinds of rows they hold."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Final

from evidpack.disclosure.proposal import MIXED, Proposal
from evidpack.model.fields import RecordKind
from evidpack.model.records import ItemKind

_HEADS: Final = {
    ItemKind.LOG.value: "a log",
    ItemKind.DESCRIPTION.value: "the office's description of the day",
    ItemKind.UNIT.value: "a file of the unit's own records",
    ItemKind.NOTES.value: "the office's notes",
    ItemKind.RUN_LOG.value: "the log of earlier runs of the checks",
}
# Made from others, not read from a row.
_MADE: Final = frozenset({RecordKind.CAPTURE.value, RecordKind.EMPTY_FOLDER.value})


def mixed_file(item_kind: str, record_kinds: Collection[str]) -> Proposal:
    """The proposal for a file that mixes people, described by what kinds of records it holds."""
    head = _HEADS.get(item_kind, "a file")
    kinds = [_plural(kind) for kind in sorted(set(record_kinds) - _MADE)]
    what = f"{head}: {', '.join(kinds)}" if kinds else head
    return replace(
        MIXED, group=f"{MIXED.group}, {what}", description=f"{what[0].upper()}{what[1:]}."
    )


def _plural(kind: str) -> str:
    if kind == RecordKind.UNREADABLE.value:
        return "rows that could not be read"
    return f"{kind.replace('_', ' ')}s"
