"""Check 19, redaction sound: what a released copy still holds besides the pixels it shows.

It looks at the finished files by another way than the one that made and verifies them: Pillow for
metadata, text and thumbnail, and a search of the raw bytes.  One finding a copy; it stands beside the
pack's verification, which alone proves the pixels.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from PIL import Image

from evidpack.checks.registry import check
from evidpack.disclosure.regions import redacted_tiles, shapes_from
from evidpack.errors import EvidpackError
from evidpack.limits import PICTURE_FORMATS
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from evidpack.proof.pack_parts import RedactionRecord
from evidpack.verifying.redacted_copy import FLAT_RGB, tile_area

CHECK: Final = "19"
# Beginnings of what cameras and editors put into pictures, searched for outside the pixel data.
# Exif 2.32 §4.5.4 and Annex A, XMP part 3, ICC.1, JFIF, PNG §11.3; from memory.
_MARKS: Final = {
    b"Exif\x00\x00": "EXIF",
    b"MM\x00*": "a TIFF header",
    b"II*\x00": "a TIFF header",
    b"xmpmeta": "XMP",
    b"ns.adobe.com": "XMP",
    b"JFIF\x00": "a JPEG",
    b"\xff\xd8\xff": "a JPEG",
    b"8BIM": "an editor's resource",
    b"acspMSFT": "a colour profile",
    b"acspAPPL": "a colour profile",
}
_PIXELS: Final = b"IDAT"
_ALLOWED: Final = {b"IHDR", _PIXELS, b"IEND"}
_SIGNATURE_BYTES: Final = 8
_CHUNK_OVERHEAD: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleasedCopy:
    """A redacted copy as it is in the pack: its exhibit, its bytes, and its redaction record."""

    exhibit: int
    data: bytes
    record: RedactionRecord | None


def redaction_findings(copies: Sequence[ReleasedCopy]) -> tuple[Finding, ...]:
    """Check 19 for a pack: one finding a copy, or not applicable where there is none.

    Fail: something besides pixels is in the file, a tile of the record shows something, a region
    asked for is not covered, or there is no record.  Query: the record lacks a reason, a person or
    a time, or closes tiles that no region asks for.
    """
    if not copies:
        return (_finding("pack", Outcome.NOT_APPLICABLE, "The pack holds no redacted copy."),)
    return tuple(_about(copy) for copy in copies)


def _about(copy: ReleasedCopy) -> Finding:
    subject = f"exhibit {copy.exhibit}"
    faults = [*traces(copy.data), *_uncovered(copy)]
    if faults:
        return _finding(
            subject,
            Outcome.FAIL,
            f"The copy is not fit to be given out: {'; '.join(faults)}.",
            advice="Whoever made the pack has to make it again; copies given out are called back.",
            measured=list(faults),
        )
    doubts = list(_doubts(copy))
    if doubts:
        return _finding(
            subject,
            Outcome.QUERY,
            f"The redaction record leaves something open: {'; '.join(doubts)}.",
            advice="Whoever decided on the redaction can complete the record in decisions.toml.",
            measured=list(doubts),
        )
    closed = len(copy.record.tiles) if copy.record else 0
    return _finding(
        subject,
        Outcome.PASS,
        "The copy holds pixels and nothing else, all regions asked for are covered, and the "
        "redaction is on record with reason, person and time.",
        measured=closed,
        unit="tiles",
    )


def traces(data: bytes) -> tuple[str, ...]:
    """What a picture file holds besides its pixels, in words; nothing where it is clean."""
    found = dict.fromkeys((*_by_pillow(data), *_by_chunks(data)))
    return tuple(found)


def _by_pillow(data: bytes) -> Iterator[str]:
    try:
        with Image.open(io.BytesIO(data), formats=PICTURE_FORMATS) as image:
            if image.format != "PNG":
                yield f"it is a {image.format}, not a PNG"
            image.load()
            if image.getexif():
                yield "EXIF"
            known = {name for name in image.info if isinstance(name, str)}
            for name in sorted(known):
                yield f"metadata “{name[:40]}”"
            if getattr(image, "n_frames", 1) != 1:
                yield "more pictures than one"
            if image.mode != "RGB":
                yield f"pixels of mode {image.mode}, which can hide some"
    except Exception as error:  # noqa: BLE001  decoders raise bare errors of many kinds
        yield f"it cannot be decoded ({type(error).__name__})"


def _by_chunks(data: bytes) -> Iterator[str]:
    """Chunks that are not pixels, bytes behind the end, and marks anywhere but in the pixels."""
    rest = bytearray()
    at = _SIGNATURE_BYTES
    pixels = bytearray()
    ended = False
    while not ended and at + _CHUNK_OVERHEAD <= len(data):
        length = int.from_bytes(data[at : at + 4])
        kind = data[at + 4 : at + 8]
        body = data[at + 8 : at + 8 + length]
        if kind == _PIXELS:
            pixels += body
        else:
            rest += body
        if kind not in _ALLOWED:
            yield f"a chunk {ascii(kind)[2:-1]}"
        at += _CHUNK_OVERHEAD + length
        ended = kind == b"IEND"
    if at != len(data):
        yield "bytes behind the end of the picture"
        rest += data[at:]
    if _behind_pixels(bytes(pixels)):
        yield "bytes behind the pixels"
    for mark, name in _MARKS.items():
        if mark in rest:
            yield name


def _behind_pixels(pixels: bytes) -> bool:
    """Whether the compressed pixels are followed by anything (RFC 1950)."""
    inflater = zlib.decompressobj()
    try:
        while pixels and not inflater.eof:
            inflater.decompress(pixels, 1 << 20)
            pixels = inflater.unconsumed_tail
    except zlib.error:
        return False  # not to be decoded, which was said
    return bool(inflater.unused_data)


def _uncovered(copy: ReleasedCopy) -> Iterator[str]:
    if copy.record is None:
        yield "no redaction record"
        return
    try:
        with Image.open(io.BytesIO(copy.data), formats=PICTURE_FORMATS) as image:
            rgb = image.convert("RGB")
    except Exception:  # noqa: BLE001  said by `_by_pillow` already
        return
    closed = set(copy.record.tiles)
    try:
        wanted = redacted_tiles(
            shapes_from(copy.record.boxes, copy.record.polygons), rgb.width, rgb.height
        )
        open_ = sorted(wanted - closed)
        shown = [tile for tile in sorted(closed) if not _flat(rgb, tile)]
    except EvidpackError as error:
        yield f"the record does not fit the picture ({error.message})"
        return
    if open_:
        yield f"{len(open_)} tiles of a region are left open, the first is tile {open_[0]}"
    if shown:
        yield f"{len(shown)} closed tiles show something, the first is tile {shown[0]}"


def _flat(image: Image.Image, tile: int) -> bool:
    """Whether a tile is filled with the flat colour; a tile outside the picture is not."""
    area = tile_area(image.width, image.height, tile)
    pixels = image.crop(area).tobytes() if area[3] > area[1] else b""
    return bool(pixels) and pixels == FLAT_RGB * (len(pixels) // len(FLAT_RGB))


def _doubts(copy: ReleasedCopy) -> Iterator[str]:
    record = copy.record
    if record is None:
        return
    for name, value in (("reason", record.reason), ("person", record.by), ("time", record.at)):
        if not value.strip():
            yield f"no {name}"
    if record.exhibit != copy.exhibit:
        yield f"it is the record of exhibit {record.exhibit}"
    with Image.open(io.BytesIO(copy.data), formats=PICTURE_FORMATS) as image:
        wanted = redacted_tiles(
            shapes_from(record.boxes, record.polygons), image.width, image.height
        )
    if more := set(record.tiles) - wanted:
        yield f"{len(more)} tiles are closed that no region asks for"


def _finding(
    subject: str,
    outcome: Outcome,
    sentence: str,
    *,
    advice: str | None = None,
    measured: JsonValue = None,
    unit: str | None = None,
) -> Finding:
    adverse = outcome in (Outcome.FAIL, Outcome.QUERY)
    definition = check(CHECK)
    return Finding(
        check=definition.number,
        check_version=definition.version,
        subject=subject,
        outcome=outcome,
        sentence=sentence,
        adverse=adverse,
        measured=measured,
        unit=unit,
        source=definition.source,
        advice=advice,
        undermines=adverse,
    )
