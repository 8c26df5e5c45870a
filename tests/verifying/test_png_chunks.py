"""Only one form of PNG is a redacted copy: every other is refused, with the place and what was there."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from evidpack.errors import ProofError
from evidpack.verifying.png_chunks import SIGNATURE, require_plain_png

WIDTH_PX, HEIGHT_PX = 40, 30
ROWS = (b"\x00" + bytes(range(120))) * HEIGHT_PX


def chunk(kind: bytes, data: bytes = b"") -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def header(
    width: int = WIDTH_PX, height: int = HEIGHT_PX, rest: tuple[int, ...] = (8, 2, 0, 0, 0)
) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, *rest))


PIXELS = zlib.compress(ROWS)
PLAIN = SIGNATURE + header() + chunk(b"IDAT", PIXELS) + chunk(b"IEND")


def check(png: bytes) -> None:
    require_plain_png(png, path="copy.png", width_px=WIDTH_PX, height_px=HEIGHT_PX)


def test_the_plain_form_is_taken_and_a_general_library_reads_it() -> None:
    check(PLAIN)
    with Image.open(io.BytesIO(PLAIN)) as image:
        assert image.tobytes() == bytes(range(120)) * HEIGHT_PX


def test_what_pillow_writes_is_taken() -> None:
    target = io.BytesIO()
    Image.effect_noise((WIDTH_PX, HEIGHT_PX), 90).convert("RGB").save(target, "PNG")
    check(target.getvalue())


@settings(max_examples=40, deadline=None)
@given(cuts=st.lists(st.integers(1, len(PIXELS) - 1), max_size=5, unique=True))
def test_pixels_may_be_cut_into_chunks_anywhere(cuts: list[int]) -> None:
    edges = [0, *sorted(cuts), len(PIXELS)]
    parts = [PIXELS[a:b] for a, b in pairwise(edges)]
    check(SIGNATURE + header() + b"".join(chunk(b"IDAT", p) for p in parts) + chunk(b"IEND"))


@pytest.mark.parametrize("row_filter", [0, 2])
def test_pixels_that_inflate_a_thousandfold_are_counted(row_filter: int) -> None:
    width, height = 4000, 3000
    rows = (bytes([row_filter]) + bytes(3 * width)) * height
    png = SIGNATURE + header(width, height) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND")
    require_plain_png(png, path="copy.png", width_px=width, height_px=height)


NOT_PLAIN: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing": (lambda: b"", "is no PNG"),
    "a JPEG": (lambda: b"\xff\xd8\xff\xe0" + PLAIN[4:], "is no PNG"),
    "a byte before": (lambda: b"\x00" + PLAIN, "is no PNG"),
    "no header": (lambda: SIGNATURE + PLAIN[33:], "does not begin with its header"),
    "a long header": (
        lambda: SIGNATURE + chunk(b"IHDR", PLAIN[16:29] + b"\x00") + PLAIN[33:],
        "does not begin with its header",
    ),
    "two headers": (lambda: PLAIN[:33] + header() + PLAIN[33:], "holds a chunk IHDR"),
    "another width": (lambda: SIGNATURE + header(width=41) + PLAIN[33:], "of another size or form"),
    "another height": (lambda: SIGNATURE + header(height=29) + PLAIN[33:], "of another size"),
    "16 bits": (
        lambda: SIGNATURE + header(rest=(16, 2, 0, 0, 0)) + PLAIN[33:],
        "of another size or form",
    ),
    "an alpha channel": (
        lambda: SIGNATURE + header(rest=(8, 6, 0, 0, 0)) + PLAIN[33:],
        "of another size or form",
    ),
    "a palette": (lambda: SIGNATURE + header(rest=(8, 3, 0, 0, 0)) + PLAIN[33:], "of another size"),
    "interlace": (lambda: SIGNATURE + header(rest=(8, 2, 0, 0, 1)) + PLAIN[33:], "of another size"),
    "no pixels": (lambda: SIGNATURE + header() + chunk(b"IEND"), "holds less than the rows"),
    "no end": (lambda: PLAIN[:-12], "the PNG ends too early"),
    "half an end": (lambda: PLAIN[:-1], "the PNG ends too early"),
    "a byte behind": (lambda: PLAIN + b"\x00", "goes on after its end"),
    "another picture behind": (lambda: PLAIN + PLAIN, "goes on after its end"),
    "an end with data": (lambda: PLAIN[:-12] + chunk(b"IEND", b"x"), "goes on after its end"),
    "an empty IDAT": (lambda: PLAIN[:33] + chunk(b"IDAT") + PLAIN[33:], "has an empty IDAT"),
    "a row less": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", zlib.compress(ROWS[:-121])) + chunk(b"IEND"),
        "holds less than the rows",
    ),
    "a byte less": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", zlib.compress(ROWS[:-1])) + chunk(b"IEND"),
        "holds less than the rows",
    ),
    "a row more": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", zlib.compress(ROWS + ROWS[:121])) + chunk(b"IEND"),
        "holds more than the rows",
    ),
    "bytes behind the stream": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", PIXELS + b"hidden") + chunk(b"IEND"),
        "holds more than the rows",
    ),
    "a chunk behind the stream": (
        lambda: PLAIN[:-12] + chunk(b"IDAT", b"hidden") + chunk(b"IEND"),
        "holds more than the rows",
    ),
    "a second stream": (
        lambda: PLAIN[:-12] + chunk(b"IDAT", PIXELS) + chunk(b"IEND"),
        "holds more than the rows",
    ),
    "a stream without its checksum": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", PIXELS[:-4]) + chunk(b"IEND"),
        "holds less than the rows",
    ),
    "a wrong checksum of the stream": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", PIXELS[:-1] + b"\x00") + chunk(b"IEND"),
        "cannot be inflated",
    ),
    "no stream": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", b"plain text") + chunk(b"IEND"),
        "cannot be inflated",
    ),
    "an unknown filter": (
        lambda: SIGNATURE + header() + chunk(b"IDAT", zlib.compress(ROWS[:121] + b"\x05" + ROWS[122:]))
        + chunk(b"IEND"),
        "has an unknown filter",
    ),
    "a damaged chunk": (
        lambda: PLAIN[:45] + bytes([PLAIN[45] ^ 1]) + PLAIN[46:],
        "the chunk IDAT is damaged",
    ),
    "a chunk longer than the file": (
        lambda: PLAIN[:33] + b"\x7f\xff\xff\xff" + PLAIN[37:],
        "longer than the file",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", NOT_PLAIN)
def test_another_form_is_refused(name: str) -> None:
    make, message = NOT_PLAIN[name]
    with pytest.raises(ProofError, match=message) as caught:
        check(make())
    assert caught.value.path == "copy.png"
    assert caught.value.offset is not None
    assert caught.value.expected
    assert caught.value.observed


@pytest.mark.parametrize(
    "kind",
    [b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"iCCP", b"tIME", b"pHYs", b"gAMA", b"sRGB", b"tRNS",
     b"PLTE", b"acTL", b"fdAT", b"prVW", b"caBX", b"\x00\x01\x02\x03"],
)  # fmt: skip
@pytest.mark.parametrize("at", [33, len(PLAIN) - 12])
def test_no_other_chunk_is_taken_wherever_it_stands(kind: bytes, at: int) -> None:
    with pytest.raises(ProofError, match="a redacted copy holds pixels alone") as caught:
        check(PLAIN[:at] + chunk(kind, b"QX51 LMN") + PLAIN[at:])
    assert caught.value.offset == at
    assert caught.value.expected == "IHDR, IDAT, IEND"


def test_what_pillow_writes_with_text_or_exif_is_refused() -> None:
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", "hidden")
    for options in ({"pnginfo": text}, {"exif": b"Exif\x00\x00MM\x00*"}, {"dpi": (72, 72)}):
        target = io.BytesIO()
        Image.new("RGB", (WIDTH_PX, HEIGHT_PX)).save(target, "PNG", **options)
        with pytest.raises(ProofError, match="a redacted copy holds pixels alone"):
            check(target.getvalue())


def test_a_bomb_is_refused_before_it_is_inflated() -> None:
    bomb = zlib.compress(bytes(200_000_000), 9)
    with pytest.raises(ProofError, match="holds more than the rows"):
        check(SIGNATURE + header() + chunk(b"IDAT", bomb) + chunk(b"IEND"))


@settings(max_examples=200, deadline=None)
@given(at=st.integers(0, len(PLAIN) - 1), bit=st.integers(0, 7))
def test_any_flipped_bit_is_refused(at: int, bit: int) -> None:
    changed = bytearray(PLAIN)
    changed[at] ^= 1 << bit
    with pytest.raises(ProofError):
        check(bytes(changed))
