"""Check 19 about copies as they are given out: each thing that may be left in one is found and named."""

from __future__ import annotations

import io
import random
import struct
import zlib
from dataclasses import replace

import pytest
from PIL import Image, PngImagePlugin

from evidpack.checks.definition import Phase
from evidpack.checks.registry import check
from evidpack.disclosure.redaction import redacted_copy
from evidpack.disclosure.regions import redacted_tiles, shapes_from
from evidpack.disclosure.soundness import ReleasedCopy, redaction_findings, traces
from evidpack.model.findings import Finding, Outcome
from evidpack.proof.pack_parts import RedactionRecord

WIDTH_PX, HEIGHT_PX = 160, 96
RGB = random.Random(8).randbytes(WIDTH_PX * HEIGHT_PX * 3)
BOXES = [[60, 40, 20, 10]]
TILES = redacted_tiles(shapes_from(BOXES, []), WIDTH_PX, HEIGHT_PX)
RECORD = RedactionRecord(
    entry=12, exhibit=2, boxes=BOXES, polygons=[], tiles=sorted(TILES),
    reason="It holds data of other people.", by="H. Undersedge", at="2026-06-01T10:00:00+00:00",
)  # fmt: skip
PNG = redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, TILES)


def about(data: bytes = PNG, record: RedactionRecord | None = RECORD) -> Finding:
    (finding,) = redaction_findings([ReleasedCopy(exhibit=2, data=data, record=record)])
    return finding


def saved(form: str = "PNG", mode: str = "RGB", **options: object) -> bytes:
    """The copy written anew by a general library, with more than pixels."""
    target = io.BytesIO()
    with Image.open(io.BytesIO(PNG)) as image:
        image.convert(mode).save(target, form, **options)
    return target.getvalue()


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def test_a_sound_copy_passes() -> None:
    finding = about()
    assert finding.outcome is Outcome.PASS
    assert not finding.adverse
    assert finding.subject == "exhibit 2"
    assert (finding.measured, finding.unit) == (len(TILES), "tiles")
    assert traces(PNG) == ()


def test_it_is_check_19_of_the_release_phase() -> None:
    assert check("19").phase is Phase.RELEASE
    assert (about().check, about().check_version) == ("19", check("19").version)


def test_without_a_copy_it_does_not_apply() -> None:
    (finding,) = redaction_findings([])
    assert finding.outcome is Outcome.NOT_APPLICABLE
    assert finding.subject == "pack"


def test_each_copy_has_its_own_finding() -> None:
    copies = [
        ReleasedCopy(exhibit=2, data=PNG, record=RECORD),
        ReleasedCopy(exhibit=3, data=PNG + b"\x00", record=replace(RECORD, exhibit=3)),
        ReleasedCopy(exhibit=4, data=PNG, record=None),
    ]
    found = [(one.subject, one.outcome.value) for one in redaction_findings(copies)]
    assert found == [("exhibit 2", "pass"), ("exhibit 3", "fail"), ("exhibit 4", "fail")]


def text_chunks() -> PngImagePlugin.PngInfo:
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", "QX51 LMN")
    return text


LEFT_IN: dict[str, tuple[bytes, str]] = {
    "text": (saved(pnginfo=text_chunks()), "a chunk tEXt"),
    "EXIF": (saved(exif=b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x0e\x00\x02\x00\x00\x00\x04abc\x00\x00\x00\x00\x00"), "EXIF"),
    "a colour profile": (saved(icc_profile=b"\x00" * 36 + b"acspMSFT"), "a chunk iCCP"),
    "a resolution": (saved(dpi=(300, 300)), "metadata “dpi”"),
    "a thumbnail": (PNG[:-12] + chunk(b"prVW", saved("JPEG")) + PNG[-12:], "a JPEG"),
    "another picture behind": (PNG + PNG, "bytes behind the end"),
    "a JPEG behind": (PNG + saved("JPEG"), "a JPEG"),
    "XMP": (PNG[:-12] + chunk(b"iTXt", b"XML:com.adobe.xmp\x00\x00\x00\x00\x00<x:xmpmeta/>") + PNG[-12:], "XMP"),
    "an alpha channel": (saved(mode="RGBA"), "pixels of mode RGBA"),
    "another format": (saved("JPEG", quality=95), "it is a JPEG, not a PNG"),
    "a TIFF": (saved("TIFF"), "it is a TIFF, not a PNG"),
    "more frames": (saved(save_all=True, append_images=[Image.new("RGB", (WIDTH_PX, HEIGHT_PX))]), "a chunk acTL"),
    "nothing that can be decoded": (b"no picture", "it cannot be decoded"),
    "half a picture": (PNG[: len(PNG) // 2], "it cannot be decoded"),
}  # fmt: skip


@pytest.mark.parametrize("name", LEFT_IN)
def test_what_is_left_in_a_copy_is_found_and_named(name: str) -> None:
    data, said = LEFT_IN[name]
    finding = about(data)
    assert finding.outcome is Outcome.FAIL
    assert finding.adverse
    assert finding.undermines
    assert said in finding.sentence
    assert finding.advice


def test_bytes_behind_the_compressed_pixels_are_found() -> None:
    rows = b"".join(
        b"\x00" + RGB[y * WIDTH_PX * 3 : (y + 1) * WIDTH_PX * 3] for y in range(HEIGHT_PX)
    )
    head = PNG[:33]
    hidden = head + chunk(b"IDAT", zlib.compress(rows) + b"hidden") + chunk(b"IEND", b"")
    assert traces(hidden) == ("bytes behind the pixels",)
    clean = head + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    assert traces(clean) == ()


def test_a_copy_without_a_record_fails() -> None:
    finding = about(record=None)
    assert finding.outcome is Outcome.FAIL
    assert "no redaction record" in finding.sentence


@pytest.mark.parametrize("tile", sorted(TILES))
def test_a_closed_tile_that_shows_something_fails(tile: int) -> None:
    finding = about(redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, TILES - {tile}))
    assert finding.outcome is Outcome.FAIL
    assert f"1 closed tiles show something, the first is tile {tile}" in finding.sentence


@pytest.mark.parametrize("tile", sorted(TILES))
def test_a_region_that_is_not_wholly_covered_fails(tile: int) -> None:
    less = TILES - {tile}
    finding = about(
        redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, less), replace(RECORD, tiles=sorted(less))
    )
    assert finding.outcome is Outcome.FAIL
    assert f"tiles of a region are left open, the first is tile {tile}" in finding.sentence


def test_a_record_of_a_region_outside_the_picture_fails() -> None:
    finding = about(record=replace(RECORD, boxes=[[900, 900, 5, 5]]))
    assert finding.outcome is Outcome.FAIL
    assert "the record does not fit the picture" in finding.sentence


def test_a_record_with_a_tile_that_is_not_there_fails() -> None:
    finding = about(record=replace(RECORD, tiles=[*sorted(TILES), 999]))
    assert finding.outcome is Outcome.FAIL
    assert "tile 999" in finding.sentence


def test_more_tiles_closed_than_any_region_asks_for_is_a_query() -> None:
    more = TILES | {0}
    finding = about(
        redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, more), replace(RECORD, tiles=sorted(more))
    )
    assert finding.outcome is Outcome.QUERY
    assert "1 tiles are closed that no region asks for" in finding.sentence


@pytest.mark.parametrize(("name", "said"), [("reason", "reason"), ("by", "person"), ("at", "time")])
def test_a_record_that_lacks_something_is_a_query(name: str, said: str) -> None:
    finding = about(record=replace(RECORD, **{name: " "}))
    assert finding.outcome is Outcome.QUERY
    assert finding.adverse
    assert f"no {said}" in finding.sentence


def test_the_record_of_another_exhibit_is_a_query() -> None:
    finding = about(record=replace(RECORD, exhibit=9))
    assert finding.outcome is Outcome.QUERY
    assert "the record of exhibit 9" in finding.sentence


def test_pixels_that_cannot_be_inflated_are_said_once() -> None:
    broken = PNG[:33] + chunk(b"IDAT", b"no pixels") + chunk(b"IEND", b"")
    finding = about(broken)
    assert finding.outcome is Outcome.FAIL
    assert finding.sentence.count("it cannot be decoded") == 1
