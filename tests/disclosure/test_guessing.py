"""An attacker who knows all but one plate, with the true one among 10,000 candidates.

He has the redacted copy, the tile openings, the redaction record, and what was opened of the still's
entry (size, pixel root); and he knows every pixel before encoding, the encoder and its settings.
Each attack is also run where it must succeed, so that it is known to be able to.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from evidpack.disclosure.redaction import redacted_copy, tile_openings
from evidpack.disclosure.regions import Shape, redacted_tiles
from evidpack.proof.digests import TILE, sha256
from evidpack.proof.pack_parts import RedactionRecord, tiles_text
from evidpack.proof.tiles import pixel_root, tile_bytes, tile_leaf
from tests.disclosure.pictures import PLATE_PX, decoded, open_pixels, street
from tests.sealed_days import FixedRandom

WIDTH_PX, HEIGHT_PX = 96, 64
PLATES = [f"{number:04d}" for number in range(10_000)]
TRUE = "4173"
KEY = FixedRandom(41)(32)
AT = (4, 4)  # the plate ends at 47 and 17: tiles 0, 1 of the first row are closed

Encode = Callable[[Image.Image], bytes]


def lossless(image: Image.Image) -> bytes:
    target = io.BytesIO()
    image.save(target, "PNG", compress_level=0)
    return target.getvalue()


def jpeg(image: Image.Image) -> bytes:
    target = io.BytesIO()
    image.save(target, "JPEG", quality=90, subsampling="4:2:0")
    return target.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What stands in the pack of one still, and which tiles are closed."""

    files: dict[str, bytes]
    tiles: frozenset[int]
    root: bytes

    @property
    def everything(self) -> bytes:
        return b"".join(self.files.values())


def give_out(original: bytes, tiles: frozenset[int]) -> Given:
    """All that the pack says of a redacted still."""
    rgb, width, height = decoded(original)
    openings = tile_openings(rgb, width, height, KEY, tiles)
    root = pixel_root(rgb, width, height, KEY)
    record = RedactionRecord(
        entry=7, exhibit=2, boxes=[[*AT, *PLATE_PX]], polygons=[], tiles=sorted(tiles),
        reason="It holds data of other people.", by="H. Undersedge",
        at="2026-06-01T10:00:00+00:00",
    )  # fmt: skip
    files = {
        "copy": redacted_copy(rgb, width, height, tiles),
        "tiles": tiles_text(openings.salts, openings.closed),
        "record": record.to_bytes(),
        "opened": f'{{"height_px":{height},"pixel_root":"{root.hex()}","width_px":{width}}}'.encode(),
    }
    return Given(files=files, tiles=tiles, root=root)


def closed_tiles() -> frozenset[int]:
    return redacted_tiles([Shape.rectangle(*AT, *PLATE_PX)], WIDTH_PX, HEIGHT_PX)


def guesses(encode: Encode) -> Iterator[tuple[str, bytes]]:
    for plate in PLATES:
        yield plate, encode(street(WIDTH_PX, HEIGHT_PX, plate=plate, at=AT))


def windows(data: bytes, size: int) -> set[bytes]:
    return {data[at : at + size] for at in range(len(data) - size + 1)}


def raw_forms(given_out: Given) -> Iterable[bytes]:
    """The bytes as they are, with hexadecimal digits read as bytes, and the pixels of the copy."""
    yield given_out.everything
    yield b"".join(
        bytes.fromhex(word.decode())
        for word in given_out.files["tiles"].split()
        if len(word) in (32, 64)
    )
    yield given_out.root
    yield decoded(given_out.files["copy"])[0]


@dataclass(frozen=True, slots=True)
class Searched:
    """All runs of 4 and of 32 bytes in what was given out, in every form."""

    short: set[bytes]
    long: set[bytes]


def searched(given_out: Given) -> Searched:
    forms = list(raw_forms(given_out))
    return Searched(
        set().union(*(windows(form, 4) for form in forms)),
        set().union(*(windows(form, 32) for form in forms)),
    )


def stands_there(original: bytes, searched: Searched, closed: frozenset[int]) -> bool:
    """Whether anything that can be computed from a guess stands anywhere in what was given out.

    The pixels of closed tiles; digests and checksums of the file, of all pixels and of each closed
    tile, plain and behind the prefixes of this format; leaves with salts that can be made up.
    """
    rgb, width, height = decoded(original)
    tiles = [tile_bytes(rgb, width, height, tile % 3, tile // 3) for tile in closed]
    forms = [original, rgb, *tiles]
    made = {sha256(prefix + form) for form in forms for prefix in (b"", TILE, b"\x00", b"\x03")}
    made |= {tile_leaf(salt, tile) for tile in tiles for salt in MADE_UP_SALTS}
    row = rgb[(AT[1] + 8) * width * 3 :][AT[0] * 3 :]  # a row through the letters
    made |= {row[at : at + 32] for at in range(0, 100, 4)}
    checksums = {check(form).to_bytes(4) for form in forms for check in (zlib.crc32, zlib.adler32)}
    return not made.isdisjoint(searched.long) or not checksums.isdisjoint(searched.short)


MADE_UP_SALTS = (bytes(16), sha256(b"tile")[:16])


@pytest.mark.parametrize("encode", [lossless, jpeg])
def test_with_the_true_plate_among_ten_thousand_none_can_be_confirmed(encode: Encode) -> None:
    given_out = give_out(encode(street(WIDTH_PX, HEIGHT_PX, plate=TRUE, at=AT)), closed_tiles())
    shown = open_pixels(*decoded(given_out.files["copy"]), given_out.tiles)
    everything = searched(given_out)
    different, fitting, confirmed = set(), 0, []
    for plate, original in guesses(encode):
        rgb, width, height = decoded(original)
        different.add(sha256(rgb))
        fitting += open_pixels(rgb, width, height, given_out.tiles) == shown
        if stands_there(original, everything, given_out.tiles):
            confirmed.append(plate)
    assert len(different) == len(PLATES)  # the candidates do differ, once decoded
    assert fitting == len(PLATES)  # and what is shown fits every one of them
    # Checksums of 4 bytes meet something by chance; that of the true plate would for a reason.
    assert TRUE not in confirmed
    assert len(confirmed) < 20


def test_the_true_plate_fits_no_salt_that_can_be_read_anywhere() -> None:
    """Every 16 bytes of everything given out, tried as the salt of each closed tile."""
    original = lossless(street(WIDTH_PX, HEIGHT_PX, plate=TRUE, at=AT))
    given_out = give_out(original, closed_tiles())
    rgb, width, height = decoded(original)
    closed = set(tile_openings(rgb, width, height, KEY, given_out.tiles).closed.values())
    assert len(closed) == len(given_out.tiles) == 4
    assert all(leaf.hex().encode() in given_out.files["tiles"] for leaf in closed)
    assert not matching_salts(original, given_out, closed)


def matching_salts(original: bytes, given_out: Given, closed: set[bytes]) -> set[bytes]:
    rgb, width, height = decoded(original)
    tiles = [tile_bytes(rgb, width, height, tile % 3, tile // 3) for tile in given_out.tiles]
    forms = list(raw_forms(given_out))[:3]  # the copy's pixels are those of its file
    return {
        salt
        for salt in set().union(*(windows(form, 16) for form in forms))
        for tile in tiles
        if tile_leaf(salt, tile) in closed
    }


def test_that_attack_finds_the_salt_of_a_closed_tile_where_it_is_given_out() -> None:
    original = lossless(street(WIDTH_PX, HEIGHT_PX, plate=TRUE, at=AT))
    given_out = give_out(original, closed_tiles())
    rgb, width, height = decoded(original)
    leaked = tile_openings(rgb, width, height, KEY, []).salts[min(given_out.tiles)]
    given_out.files["tiles"] += b"open " + leaked.hex().encode() + b"\n"
    closed = set(tile_openings(rgb, width, height, KEY, given_out.tiles).closed.values())
    assert matching_salts(original, given_out, closed) == {leaked}


@pytest.mark.parametrize("what", ["digest of the original", "checksum", "unsalted tile", "pixels"])
def test_that_attack_finds_what_it_computes_where_it_is_given_out(what: str) -> None:
    original = lossless(street(WIDTH_PX, HEIGHT_PX, plate=TRUE, at=AT))
    given_out = give_out(original, closed_tiles())
    rgb, width, height = decoded(original)
    tile = tile_bytes(rgb, width, height, 1, 0)
    given_out.files["more"] = {
        "digest of the original": sha256(original),
        "checksum": zlib.crc32(original).to_bytes(4),
        "unsalted tile": sha256(TILE + tile),
        "pixels": tile_bytes(rgb, width, height, 0, 0),
    }[what]
    assert stands_there(original, searched(given_out), given_out.tiles)


# The ring: what JPEG carries from inside a region to the pixels around it.


def fitting_by_margin(at: tuple[int, int], margin_px: int, plates: list[str]) -> tuple[int, int]:
    """How many kinds of open pixels there are, and how many candidates fit those of the first."""
    shape = Shape(points=Shape.rectangle(*at, *PLATE_PX).points, margin_px=margin_px)
    tiles = redacted_tiles([shape], 128, 128)
    shown = [
        open_pixels(*decoded(jpeg(street(128, 128, plate=plate, at=at))), tiles) for plate in plates
    ]
    return len(set(shown)), shown.count(shown[0])


@pytest.mark.parametrize("margin_px", [0, 8, 15])
def test_with_a_growth_below_sixteen_the_ring_around_a_box_tells_plates_apart(
    margin_px: int,
) -> None:
    # The plate's last row and column are 48: the first of a block of 16 that ends at a tile's edge.
    kinds, fitting = fitting_by_margin((5, 35), margin_px, PLATES[:1000])
    assert kinds > 500
    assert fitting < 10


def test_with_a_growth_of_sixteen_the_ring_tells_nothing() -> None:
    assert fitting_by_margin((5, 35), 16, PLATES[:1000]) == (1, 1000)


@settings(max_examples=150, deadline=None)
@given(
    box=st.tuples(st.integers(0, 127), st.integers(0, 127), st.integers(1, 50), st.integers(1, 50)),
    subsampling=st.sampled_from(["4:4:4", "4:2:2", "4:2:0"]),
    quality=st.integers(5, 100),
    progressive=st.booleans(),
    colours=st.tuples(*[st.integers(0, 255)] * 6),
)
def test_whatever_stands_in_a_box_the_pixels_left_open_are_the_same(
    box: tuple[int, int, int, int], subsampling: str, quality: int, progressive: bool,
    colours: tuple[int, ...],
) -> None:  # fmt: skip
    tiles = redacted_tiles([Shape.rectangle(*box)], 128, 128)
    shown = set()
    for colour in (colours[:3], colours[3:]):
        image = street(128, 128)
        image.paste(colour, (box[0], box[1], box[0] + box[2], box[1] + box[3]))
        target = io.BytesIO()
        image.save(
            target, "JPEG", quality=quality, subsampling=subsampling, progressive=progressive
        )
        shown.add(open_pixels(*decoded(target.getvalue()), tiles))
    assert len(shown) == 1


@pytest.mark.skipif(shutil.which("convert") is None, reason="ImageMagick is not installed")
@pytest.mark.parametrize(
    "factors", ["4x1", "4x2", "1x2", "1x4", "2x4", "3x1", "3x2", "4x1,2x1,1x1", "2x2,1x2,1x1"]
)
def test_the_pixels_left_open_are_the_same_for_blocks_of_every_size(factors: str) -> None:
    """Sampling factors that Pillow cannot write: blocks of up to 32 pixels (another encoder)."""
    for left, top, width, height in ((31, 47, 17, 1), (16, 15, 32, 33), (63, 64, 1, 16)):
        tiles = redacted_tiles([Shape.rectangle(left, top, width, height)], 128, 128)
        shown = set()
        for colour in ((250, 0, 30), (0, 240, 255)):
            image = street(128, 128)
            image.paste(colour, (left, top, left + width, top + height))
            plain = io.BytesIO()
            image.save(plain, "PPM")
            command = ["convert", "ppm:-", "-quality", "80", "-sampling-factor", factors, "jpg:-"]
            made = subprocess.run(command, input=plain.getvalue(), capture_output=True, check=True)
            with Image.open(io.BytesIO(made.stdout)) as encoded:
                assert f"{encoded.layer[0][1]}x{encoded.layer[0][2]}" == factors[:3]  # type: ignore[attr-defined]
            shown.add(open_pixels(*decoded(made.stdout), tiles))
        assert len(shown) == 1
