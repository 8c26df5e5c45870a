"""What names a redacted still, or would confirm a guess at what is under the box.

Beside a redacted copy the original's name, size, digest and time stay closed, and with them whatever
other entries say the same: the still's own record, the capture's list, a row that names the picture.
A camera may make the unique image identifier from the picture, so it is treated as a digest is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from evidpack.disclosure.decisions import Decisions
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.disclosure.texts import texts_in
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue

# Of the still's file entry.
CLOSED_OF_FILE: Final = frozenset({"path", "size", "sha256", "modified", "original_name"})
_UNIQUE_ID: Final = "image_unique_id"
_MEASURED: Final = frozenset({"thumbnail_correlation"})


@dataclass(frozen=True, slots=True, kw_only=True)
class RedactedNames:
    """What the redacted stills of a pack are called by.

    `parts` are file names and digests, which tell also as a part of a text; `whole` are unique image
    identifiers, which may be short and tell only by themselves.  All casefolded.
    """

    parts: frozenset[str]
    whole: frozenset[str]

    def fields_in(self, entry: SealedEntry) -> frozenset[str]:
        """The fields of an entry that name a redacted still, and with them what was measured on its
        whole picture."""
        if not self.parts:
            return frozenset()
        naming = frozenset(name for name, value in entry.values.items() if self._names(value))
        return naming | (_MEASURED & entry.values.keys() if naming else frozenset())

    def _names(self, value: JsonValue) -> bool:
        return any(
            text in self.whole or any(part in text for part in self.parts)
            for text in map(_folded, texts_in(value))
        )


NOTHING_REDACTED: Final = RedactedNames(parts=frozenset(), whole=frozenset())


def names_of_redacted(bundle: SealedBundle, decisions: Decisions) -> RedactedNames:
    """What the stills are called by that are redacted by these decisions."""
    stills = {
        number
        for number in decisions.redactions
        if number < bundle.count and decisions.decisions[number].what == "redact"
    }
    if not stills:
        return NOTHING_REDACTED
    parts = {part for number in stills for part in _file_names(bundle.entry(number).values)}
    return RedactedNames(
        parts=frozenset(map(_folded, parts)),
        whole=_unique_identifiers(bundle.entries(), stills),
    )


def _file_names(values: Mapping[str, JsonValue]) -> Iterable[str]:
    for name in ("path", "original_name", "sha256"):
        text = values.get(name)
        if isinstance(text, str):
            yield text.rpartition("/")[2]


def _unique_identifiers(entries: Iterable[SealedEntry], stills: set[int]) -> frozenset[str]:
    """Of the records of these stills. One that is the identifier of a capture, as where captures are
    joined by it, is no digest of a picture, and every row of the capture has it."""
    found: set[str] = set()
    captures: set[str] = set()
    for entry in entries:
        values = entry.values
        kind = values.get("record_kind")
        if kind == RecordKind.STILL.value and values.get("source_entry") in stills:
            found |= {_folded(text) for text in texts_in(values.get(_UNIQUE_ID))}
        elif kind == RecordKind.CAPTURE.value:
            captures |= {_folded(text) for text in texts_in(values.get("capture"))}
    return frozenset(found - captures)


def _folded(text: str) -> str:
    return text.strip().casefold()
