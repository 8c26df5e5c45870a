"""The day sorted for the reader: captures with their readings and pictures, findings by capture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.checks.notes import Notes, captures_named
from evidpack.index.content import IndexContent, IndexedFile, IndexedFinding, IndexedRecord
from evidpack.index.phrases import Links, stamp_of
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue

_ORDER: Final = {
    Outcome.FAIL: 0,
    Outcome.QUERY: 1,
    Outcome.NOT_DETERMINABLE: 2,
    Outcome.PASS: 3,
    Outcome.NOT_APPLICABLE: 4,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """A capture as shown: its own record, its reading where found, paths of its items."""

    number: int
    entry: int
    record: Record
    reading: IndexedRecord | None
    stills: tuple[str, ...]
    clips: tuple[str, ...]

    @property
    def anchor(self) -> str:
        """The name of its place in the document."""
        return capture_anchor(self.number)

    @property
    def shown(self) -> Record:
        """The record that holds the measured values: the reading, else the capture itself."""
        return self.record if self.reading is None else self.reading.record


def capture_anchor(number: int) -> str:
    """Where a capture is shown."""
    return f"capture-{number}"


def file_anchor(number: int) -> str:
    """Where a file is shown."""
    return f"file-{number}"


def finding_anchor(number: int) -> str:
    """Where a finding is shown."""
    return f"finding-{number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """Everything in the order in which the chapters need it."""

    content: IndexContent
    kinds: Mapping[RecordKind, Sequence[IndexedRecord]]
    captures: Sequence[Capture]
    files: Mapping[str, IndexedFile]
    findings: Sequence[IndexedFinding]  # the adverse first
    findings_of: Mapping[int, Sequence[IndexedFinding]]  # by capture number
    reviews_of: Mapping[str, Sequence[Record]]  # by capture identifier
    notes: Notes
    links: Links

    def of(self, kind: RecordKind) -> Sequence[IndexedRecord]:
        """The records of one kind, in ledger order."""
        return self.kinds.get(kind, ())

    @property
    def last_capture(self) -> datetime | None:
        """The latest instant among the captures' readings, where any names one."""
        instants = []
        for capture in self.captures:
            stamp = stamp_of(capture.shown, "time")
            if stamp is not None and stamp.instants:
                instants.append(stamp.instants[-1])
        return max(instants, default=None)


def assemble(content: IndexContent) -> Assembly:
    """Sort the content for the reader."""
    kinds: dict[RecordKind, list[IndexedRecord]] = {}
    for indexed in content.records:
        kinds.setdefault(indexed.record.kind, []).append(indexed)
    captures = _captures(kinds)
    files = {file.path: file for file in content.files}
    findings = sorted(content.findings, key=_rank)
    last = max((capture.number for capture in captures), default=0)
    of_capture: dict[int, list[IndexedFinding]] = {}
    for finding in findings:
        for number in captures_named(finding.finding.subject, last):
            of_capture.setdefault(number, []).append(finding)
    reviews: dict[str, list[Record]] = {}
    for review in kinds.get(RecordKind.REVIEW, ()):
        reviews.setdefault(review.record.text("capture") or "", []).append(review.record)
    links = Links(
        {capture.number: capture.anchor for capture in captures},
        {path: file_anchor(file.number) for path, file in files.items()},
    )
    return Assembly(
        content=content,
        kinds=kinds,
        captures=captures,
        files=files,
        findings=findings,
        findings_of=of_capture,
        reviews_of=reviews,
        notes=Notes(
            [note.record for note in kinds.get(RecordKind.NOTE, ())],
            [capture.record for capture in captures],
        ),
        links=links,
    )


def _rank(indexed: IndexedFinding) -> tuple[bool, int, int]:
    finding = indexed.finding
    return (not finding.adverse, _ORDER[finding.outcome], indexed.number)


def _captures(kinds: Mapping[RecordKind, Sequence[IndexedRecord]]) -> list[Capture]:
    readings: dict[Source, IndexedRecord] = {
        reading.record.source: reading for reading in kinds.get(RecordKind.READING, ())
    }
    captures = [
        Capture(
            number=indexed.record.integer("number") or 0,
            entry=indexed.number,
            record=indexed.record,
            reading=readings.get(indexed.record.source),
            stills=_paths(indexed.record.values.get("stills")),
            clips=_paths(indexed.record.values.get("clips")),
        )
        for indexed in kinds.get(RecordKind.CAPTURE, ())
    ]
    return sorted(captures, key=lambda capture: (capture.number, capture.entry))


def _paths(value: JsonValue) -> tuple[str, ...]:
    return tuple(str(path) for path in value) if isinstance(value, list) else ()
