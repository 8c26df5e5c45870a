"""The records of stills and clips, before they are joined to readings."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import BinaryIO

from evidpack.intake.clip_timing import ClipTimingError, frame_times_s
from evidpack.intake.embedded_thumbnails import thumbnail_values
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.picture_ends import ends_whole
from evidpack.intake.profile import ItemSpec
from evidpack.intake.source import FileEntry, FileSource
from evidpack.intake.stills import StillError, read_header, still_values
from evidpack.intake.unreadable import unreadable
from evidpack.limits import COPY_BUFFER_BYTES, MAX_SAFE_INTEGER
from evidpack.model.fields import RecordKind
from evidpack.model.records import ItemKind, Record, Source
from evidpack.model.values import JsonValue


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A still or clip record, and the unreadable record beside it where there is one."""

    picture: Record
    others: list[Record] = field(default_factory=list)


def picture_records(
    entry: FileEntry, spec: ItemSpec, source: FileSource, *, zone: str | None, digest: bool = True
) -> Picture:
    """The record of a still or clip. A still that can't be read keeps what its name says, and a
    record of kind `unreadable` stands beside it. A clip whose frame times can't be read says why.
    `digest` is false for a still that can't be another's copy, since no other file has its size.
    """
    where = Source(path=entry.path)
    values: dict[str, JsonValue] = {"path": entry.path, **_name_values(entry.path, spec)}
    declared = {"counter": spec.counter, "clock": spec.clock}
    values.update({name: value for name, value in declared.items() if value is not None})
    if spec.kind is ItemKind.CLIP:
        values.update(_clip_values(entry, source))
        return Picture(picture=Record(kind=RecordKind.CLIP, source=where, values=values))
    with disk_errors(entry.path), source.open(entry.path) as stream:
        if digest:
            values["sha256"] = _digest(stream)
            stream.seek(0)
        try:
            header = read_header(stream, size=entry.size)
            if not ends_whole(stream, header.format, size=entry.size):
                raise StillError("the picture is broken or ends too early")
            compared = thumbnail_values(stream, header.thumbnail)
        except StillError as error:
            values["readable"] = False
            fault = unreadable(where, reason=str(error), record=RecordKind.STILL.value)
            still = Record(kind=RecordKind.STILL, source=where, values=values)
            return Picture(picture=still, others=[fault])
    values["readable"] = True
    values["width_px"] = header.width_px
    values["height_px"] = header.height_px
    values["format"] = header.format
    values.update(compared)
    values.update(still_values(header.tags, zone=zone))
    still = Record(kind=RecordKind.STILL, source=where, raw=dict(header.tags), values=values)
    return Picture(picture=still)


def _clip_values(entry: FileEntry, source: FileSource) -> dict[str, JsonValue]:
    with disk_errors(entry.path), source.open(entry.path) as stream:
        try:
            return {"frame_times_s": [*frame_times_s(stream, size=entry.size)]}
        except ClipTimingError as error:
            return {"timing_fault": str(error)}


def _digest(stream: BinaryIO) -> str:
    """SHA-256 in hex, by which check 8 tells a file that is there twice."""
    digest = hashlib.sha256()
    while part := stream.read(COPY_BUFFER_BYTES):
        digest.update(part)
    return digest.hexdigest()


def _name_values(path: str, spec: ItemSpec) -> dict[str, JsonValue]:
    """What the file's name says by the declared pattern."""
    groups = spec.pattern.read(path.removeprefix("export/")) if spec.pattern else None
    values: dict[str, JsonValue] = {}
    for name, text in (groups or {}).items():
        if name != "image_number":
            values[name] = text
        elif text.isascii() and text.isdigit() and int(text) <= MAX_SAFE_INTEGER:
            values[name] = int(text)
    return values
