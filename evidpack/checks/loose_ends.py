"""Do rows and papers point at what is there? Part of check 18.

A row about a still, a clip or a capture that the export does not hold, and a paper that names a
document which nobody handed in, say that something is missing or wrongly named.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, names
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding

SOURCE: Final = "common practice, no source"
_LISTED: Final = 6
_EXPORT: Final = "export/"

# Kind of row, its words, the field that names something, what that is.
_POINTERS: Final = (
    (RecordKind.DATA_STRIP, "data strips", "still", "still"),
    (RecordKind.MARK, "marks", "still", "still"),
    (RecordKind.FRAME_TIME, "frame times", "clip", "clip"),
    (RecordKind.MARK, "marks", "capture", "capture"),
    (RecordKind.REVIEW, "reviews", "capture", "capture"),
    (RecordKind.REVIEW, "reviews", "same_vehicle_as", "capture"),
    (RecordKind.EVENT, "events", "capture", "capture"),
)


def loose_ends(look: Look, say: Say) -> Iterator[Finding]:
    """Rows that name a still, clip or capture that is not there, and papers that name a document
    that is not."""
    pictures = {
        "still": _pictures(look, RecordKind.STILL),
        "clip": _pictures(look, RecordKind.CLIP),
    }
    for kind, words, field, what in _POINTERS:
        named = [text for record in look.day.of(kind) if (text := record.text(field)) is not None]
        present = look.identifiers if what == "capture" and named else pictures.get(what, ())
        lost = [text for text in named if _last(text, what) not in present]
        if lost:
            yield _lost(say, words, what, lost, len(named), told=what != "clip" and _told(look))
    yield from _documents(look, say)


def _told(look: Look) -> bool:
    """Whether the loss of a still or reading shows by itself: in image numbers (check 8), or in a
    row that could not be read."""
    stills = look.day.of(RecordKind.STILL)
    numbered = any(record.integer("image_number") is not None for record in stills)
    return numbered or bool(look.day.of(RecordKind.UNREADABLE))


def _lost(say: Say, words: str, what: str, lost: list[str], of: int, *, told: bool) -> Finding:
    listed = names(sorted(set(lost)), listed=_LISTED)
    sentence = f"{len(lost)} of {of} {words} name a {what} that is not in the export: {listed}"
    advice = f"The operator can supply the {what}, or say which one is meant."
    if told:
        return say.missing(
            words,
            f"{sentence}; they can't be compared with anything.",
            advice,
            needs="items_named",
            measured=len(lost),
        )
    return say.query(words, f"{sentence}.", advice, measured=len(lost), limit=0, source=SOURCE)


def _pictures(look: Look, kind: RecordKind) -> set[str]:
    return {(record.text("path") or "").rpartition("/")[2] for record in look.day.of(kind)}


def _last(text: str, what: str) -> str:
    """The file name of a still or clip, whatever folder stands before it."""
    return text if what == "capture" else text.rpartition("/")[2]


def _documents(look: Look, say: Say) -> Iterator[Finding]:
    """Certificates and reports that name a document that is not in the export."""
    paths = {item.path.removeprefix(_EXPORT) for item in look.day.items}
    if not paths:
        return
    lost: dict[str, list[str]] = {}
    for kind, words in ((RecordKind.CERTIFICATE, "certificate"), (RecordKind.REPORT, "report")):
        for record in sorted(look.day.of(kind), key=lambda one: one.source.order):
            document = record.text("document")
            if document is None or document.removeprefix(_EXPORT) in paths:
                continue
            number = record.text("number") or "without number"
            name = f"{words} {number}"
            if kind is RecordKind.REPORT:
                session = record.text("session")
                name = f"report of session {session}" if session else "day report"
            lost.setdefault(document, []).append(name)
    for document, papers in sorted(lost.items()):
        yield say.query(
            papers[0],
            f"The document of {names(papers)}, {document}, is not in the export.",
            "The unit's records office can supply it, or correct its name.",
            measured=document,
            source=SOURCE,
        )
