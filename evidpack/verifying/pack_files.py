"""Step 4 of a pack: released originals, redacted copies, and tables made from opened fields."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Final

from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.errors import ContainerError, EvidpackError, ProofError
from evidpack.limits import MAX_STILL_BYTES, MAX_TAG_FILE_BYTES
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import Became
from evidpack.proof.pack_parts import RedactionRecord, parse_redaction, parse_tiles
from evidpack.verifying.pack_contents import PackContents, RevealedEntry, lines_of, note_fault
from evidpack.verifying.redacted_copy import TileOpenings, require_redacted_copy
from evidpack.verifying.report import Fault
from evidpack.verifying.revealed_rows import Row, rendered_rows

_HEX64: Final = re.compile(r"[0-9a-f]{64}")
_ORIGINALS: Final = ("export/", "office/")


def examine_files(contents: PackContents, archive: Archive, digests: Mapping[str, bytes]) -> None:
    """Step 4: each file under data/ is a released original, a redacted copy, or a rendering."""
    expected: set[str] = set()
    pictures: list[RevealedEntry] = []
    for one in contents.revealed:
        if one.line.kind != "file":
            continue
        if one.line.became is Became.RELEASED:
            expected.add(_examine_original(contents, one, archive, digests))
        else:
            pictures.append(one)
    expected |= _examine_pictures(contents, pictures, archive)
    expected |= _examine_renderings(contents, archive)
    for name in digests:
        if name.startswith(layout.DATA) and name not in expected:
            contents.content_faults.append(
                Fault(item=name, message="the file belongs to no released or redacted entry")
            )


def _examine_original(
    contents: PackContents, one: RevealedEntry, archive: Archive, digests: Mapping[str, bytes]
) -> str:
    path = str(one.opened.get("path"))
    name = layout.DATA + path
    if name not in archive or not path.startswith(_ORIGINALS):
        contents.content_faults.append(
            Fault(item=name, message=f"the released file of entry {one.line.entry} is missing")
        )
        return name
    size = archive.member(name).size
    if digests.get(name, b"").hex() != one.opened.get("sha256") or size != one.opened.get("size"):
        contents.content_faults.append(
            Fault(
                item=name,
                message=f"the file is not the one of entry {one.line.entry}",
                expected=f"{one.opened.get('size')} bytes, SHA-256 {one.opened.get('sha256')}",
                observed=f"{size} bytes, SHA-256 {digests.get(name, b'').hex()}",
            )
        )
    return name


def _examine_pictures(
    contents: PackContents, pictures: list[RevealedEntry], archive: Archive
) -> set[str]:
    """Redacted copies tile by tile; each with its redaction record, and no record without one."""
    expected: set[str] = set()
    records = _redactions(contents, archive)
    for one in pictures:
        name = layout.exhibit_picture(one.line.exhibit or 0)
        expected.add(name)
        try:
            _require_picture(one, records.pop(one.line.entry, None), archive, name)
        except EvidpackError as error:
            note_fault(contents.content_faults, error, name)
    for entry in records:
        contents.content_faults.append(
            Fault(
                item=layout.DISCLOSURE_REDACTIONS,
                message=f"there is a redaction record for entry {entry}, which is not redacted",
            )
        )
    tiles = {layout.exhibit_tiles(one.line.exhibit or 0) for one in pictures}
    for member in archive.members:
        if member.name.startswith(layout.DISCLOSURE_TILES) and member.name not in tiles:
            contents.content_faults.append(
                Fault(item=member.name, message="these tiles belong to no redacted copy")
            )
    return expected


def _redactions(contents: PackContents, archive: Archive) -> dict[int, RedactionRecord]:
    name = layout.DISCLOSURE_REDACTIONS
    found: dict[int, RedactionRecord] = {}
    if name not in archive:
        return found
    try:
        for number, line in enumerate(lines_of(archive, name), start=1):
            record = parse_redaction(line, path=name, number=number)
            if record.entry in found:
                raise ProofError("an entry has two redaction records", path=name, line=number)
            found[record.entry] = record
    except (ProofError, ContainerError) as error:
        note_fault(contents.content_faults, error, name)
    return found


def _require_picture(
    one: RevealedEntry, record: RedactionRecord | None, archive: Archive, name: str
) -> None:
    exhibit = one.line.exhibit or 0
    tiles_name = layout.exhibit_tiles(exhibit)
    salts, closed = parse_tiles(archive.read(tiles_name, limit=MAX_TAG_FILE_BYTES), path=tiles_name)
    if record is None or record.exhibit != exhibit or list(record.tiles) != sorted(closed):
        raise ProofError(
            "the redaction record is missing, or is about other tiles than those closed",
            path=layout.DISCLOSURE_REDACTIONS,
            expected=f"exhibit {exhibit}, {len(closed)} tiles",
            observed="none" if record is None else f"exhibit {record.exhibit}, {len(record.tiles)}",
        )
    width, height, root = (one.opened.get(key) for key in ("width_px", "height_px", "pixel_root"))
    if not isinstance(width, int) or not isinstance(height, int) or not _is_digest(root):
        raise ProofError(
            "a redacted copy needs the size and the pixel root opened",
            path=name,
            expected="width_px, height_px and pixel_root",
            observed=", ".join(sorted(one.opened)),
        )
    require_redacted_copy(
        archive.read(name, limit=MAX_STILL_BYTES),
        path=name,
        width_px=width,
        height_px=height,
        pixel_root=bytes.fromhex(str(root)),
        openings=TileOpenings(salts=salts, closed=closed),
    )


def _is_digest(value: JsonValue) -> bool:
    return isinstance(value, str) and _HEX64.fullmatch(value) is not None


def rows_of(revealed: list[RevealedEntry]) -> Iterator[Row]:
    """What the renderings are made from: revealed records and findings."""
    for one in revealed:
        if one.line.kind != "file":
            yield Row(
                entry=one.line.entry,
                exhibit=one.line.exhibit or 0,
                opened=one.opened,
                closed=one.closed,
            )


def _examine_renderings(contents: PackContents, archive: Archive) -> set[str]:
    rendered = rendered_rows(rows_of(contents.revealed))
    for name, data in rendered.items():
        try:
            found = archive.read(name, limit=MAX_TAG_FILE_BYTES)
        except ContainerError as error:
            note_fault(contents.content_faults, error, name)
            continue
        if found != data:
            contents.content_faults.append(
                Fault(
                    item=name,
                    message="the rendering does not come out the same from the opened fields",
                    expected=f"{len(data)} bytes made from disclosure/openings.jsonl",
                    observed=f"{len(found)} others",
                )
            )
    return set(rendered)
