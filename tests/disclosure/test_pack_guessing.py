"""Guessing from a whole pack: with the true value among 10,000 candidates, none can be confirmed.

An attacker who knows the format tries every way to confirm a guess: the value itself, its digests,
its commitment under every run of 16 bytes in the pack as salt, its ledger line under every run of 32
bytes as key, and a closed tile's pixels under every salt.  A guess is confirmed where a computed
digest stands anywhere in the pack.  Each way is tried on something that is disclosed too, so that it
is known to find what can be found.
"""

from __future__ import annotations

import hashlib
import io
import re
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from PIL import Image

from evidpack.container import layout
from evidpack.disclosure.index_content import index_of_pack
from evidpack.disclosure.pack import MadePack
from evidpack.disclosure.sealed_bundle import SealedBundle, open_sealed_bundle
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.commitments import entry_line
from evidpack.proof.digests import leaf_digest
from evidpack.proof.entries import tile_key
from evidpack.proof.tiles import tile_bytes, tile_salts
from tests.disclosure.changed_days import changed_day
from tests.disclosure.deciding import decided
from tests.disclosure.packs import make, opened_bundle, parts, simple_decisions
from tests.disclosure.pictures import large_still, street, unique_identifier
from tests.disclosure.redacting import redacted, still_of
from tests.disclosure.test_guessing import (
    AT,
    HEIGHT_PX,
    TRUE,
    WIDTH_PX,
    Encode,
    guesses,
    jpeg,
    lossless,
)
from tests.sealed_days import SealedDay

CANDIDATES = 10_000
_HEX = re.compile(rb"[0-9a-f]{32,}")


@pytest.fixture(scope="module")
def real_pack(
    sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory
) -> tuple[MadePack, bytes]:
    """A pack with its real index."""
    bundle = opened_bundle(sealed_day)
    return make(
        sealed_day,
        simple_decisions(bundle),
        tmp_path_factory.mktemp("guess") / "p.zip",
        index=index_of_pack,
    )


def read_out(pack: bytes) -> list[bytes]:
    """All that can be read from a pack: its bytes, every member, what is compressed inside PDF and PNG,
    and the text of the index, in which digests stand in groups."""
    from pypdf import PdfReader

    found = [pack]
    for name, data in parts(pack).items():
        for start in (found.start() for found in re.finditer(b"\x78[\x01\x5e\x9c\xda]", data)):
            try:
                found.append(zlib.decompressobj().decompress(data[start:]))
            except zlib.error:
                continue
        if name == layout.INDEX:
            text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
            found += [text.encode(), "".join(text.split()).encode()]
    return found


def every_byte(pack: bytes) -> bytes:
    return b"\n".join(read_out(pack))


def runs_in(pack: bytes, length: int) -> set[bytes]:
    """Every run of so many bytes anywhere in a pack, raw and from hex: digests, salts, keys."""
    found: set[bytes] = set()
    for data in read_out(pack):
        found.update(data[at : at + length] for at in range(len(data) - length + 1))
        for run in _HEX.findall(data):
            for at in range(len(run) - 2 * length + 1):
                found.add(bytes.fromhex(run[at : at + 2 * length].decode()))
    return found


def commitments(name: str, value: JsonValue, salts: set[bytes]) -> Iterator[bytes]:
    committed = canonical_bytes([name, value])
    for salt in salts:
        yield hashlib.sha256(b"\x03" + salt + committed).digest()


def plain_digests(value: JsonValue) -> set[bytes]:
    """What somebody might compute without any salt."""
    texts = {str(value), canonical_bytes(value).decode()}
    return {hashlib.sha256(text.encode()).digest() for text in texts} | {
        hashlib.sha256(prefix + text.encode()).digest()
        for text in texts
        for prefix in (b"\x00", b"\x03", b"\x03" + bytes(16))
    }


def withheld_reading(bundle: SealedBundle) -> tuple[int, Mapping[str, JsonValue]]:
    return next(
        (entry.number, entry.values)
        for entry in bundle.entries()
        if entry.values.get("record_kind") == "reading" and entry.values.get("capture") == "C2"
    )


def test_no_withheld_value_stands_in_any_byte_of_a_pack(
    sealed_day: SealedDay, real_pack: tuple[MadePack, bytes]
) -> None:
    everything = every_byte(real_pack[1])
    assert b"C1_0001.jpg" in everything  # what is disclosed is found
    for secret in (b"C2_0002", b"09:20:30", b"not a speed", b"readings.csv", b"44 mph"):
        assert secret not in everything, secret
    still = (sealed_day.folder / "export/stills/C2_0002.png").read_bytes()
    assert still[60:120] not in everything
    for digest in (hashlib.sha256(still), hashlib.md5(still), hashlib.sha1(still)):
        assert digest.digest() not in everything
        assert digest.hexdigest().encode() not in everything


@pytest.mark.parametrize("name", ["speed_mph", "range_m", "time", "raw:Time", "raw:Speed"])
def test_no_field_of_a_withheld_row_can_be_confirmed_under_any_salt(
    sealed_day: SealedDay, real_pack: tuple[MadePack, bytes], name: str
) -> None:
    pack = real_pack[1]
    _, values = withheld_reading(opened_bundle(sealed_day))
    known, salts = runs_in(pack, 32), runs_in(pack, 16)
    assert not known.intersection(commitments(name, values[name], salts))
    disclosed = next(
        one for one in real_pack[0].plan.revealed if one.opened.get("record_kind") == "reading"
    )
    assert known.intersection(commitments(name, disclosed.opened[name], salts)), "the way works"


def test_no_path_size_or_digest_of_a_withheld_file_can_be_confirmed(
    sealed_day: SealedDay, real_pack: tuple[MadePack, bytes]
) -> None:
    pack = real_pack[1]
    known, salts = runs_in(pack, 32), runs_in(pack, 16)
    entry = next(
        entry
        for entry in opened_bundle(sealed_day).entries()
        if entry.values.get("path") == "export/stills/C2_0002.png" and entry.kind == "file"
    )
    for name in ("path", "size", "sha256", "pixel_root"):
        assert not known.intersection(commitments(name, entry.values[name], salts)), name
        assert not known.intersection(plain_digests(entry.values[name])), name


def test_ten_thousand_candidates_without_a_salt_confirm_nothing(
    sealed_day: SealedDay, real_pack: tuple[MadePack, bytes]
) -> None:
    known = runs_in(real_pack[1], 32)
    _, values = withheld_reading(opened_bundle(sealed_day))
    candidates = [f"09:{n // 60 % 60:02d}:{n % 60:02d}" for n in range(3_600)]
    candidates += [str(n) for n in range(CANDIDATES - len(candidates))]
    assert values["raw:Time"] in candidates
    assert values["raw:Speed"] in candidates
    assert len(candidates) == CANDIDATES
    assert not [one for one in candidates if known & plain_digests(one)]


def test_no_withheld_line_can_be_rebuilt_since_no_key_stands_in_the_pack(
    sealed_day: SealedDay, real_pack: tuple[MadePack, bytes]
) -> None:
    """With an entry's key the whole line could be guessed at, and its leaf is there to compare."""
    bundle = opened_bundle(sealed_day)
    number, values = withheld_reading(bundle)
    runs = runs_in(real_pack[1], 32)
    assert bundle.leaves[number] in runs
    key = bundle.entry(number).key
    assert leaf_digest(entry_line("record", values, key)) == bundle.leaves[number]
    for entry in bundle.entries():
        assert entry.key not in runs


@pytest.mark.parametrize(("capture", "name"), [("C1", "C1_0001.jpg"), ("C2", "C2_0002.png")])
def test_no_pixel_under_a_redaction_can_be_confirmed_with_the_true_pixels(
    big_day: SealedDay, tmp_path: Path, capture: str, name: str
) -> None:
    made, pack, number = redacted(
        big_day, tmp_path / "p.zip", capture=capture, name=name, index=index_of_pack
    )
    entry = open_sealed_bundle(io.BytesIO(big_day.bundle), path="b").entry(number)
    rgb = Image.open(big_day.folder / "export" / "stills" / name).convert("RGB").tobytes()
    tiles = parts(pack)[layout.exhibit_tiles(made.plan.lines[number].exhibit or 0)]
    lines = tiles.decode().splitlines()
    true_salts = tile_salts(tile_key(entry.key), len(lines))
    known, salts = runs_in(pack, 32), runs_in(pack, 16)
    closed = [tile for tile, line in enumerate(lines) if line.startswith("closed")]
    assert len(closed) >= 2
    for tile in closed:
        pixels = tile_bytes(rgb, 200, 150, tile % 7, tile // 7)
        tried = (hashlib.sha256(b"\x04" + salt + pixels).digest() for salt in salts)
        assert not known.intersection(tried), f"tile {tile}"
        # With its salt, which is not there, it would be found.
        assert true_salts[tile] not in salts
        assert hashlib.sha256(b"\x04" + true_salts[tile] + pixels).digest() in known
    for field in ("path", "size", "sha256", "modified"):
        assert not known.intersection(commitments(field, entry.values[field], salts)), field
        assert not known.intersection(plain_digests(entry.values[field])), field


@pytest.mark.parametrize(("capture", "name"), [("C1", "C1_0001.jpg"), ("C2", "C2_0002.png")])
def test_an_identifier_that_a_camera_made_from_the_pixels_confirms_no_guess(
    big_day: SealedDay, tmp_path: Path, capture: str, name: str
) -> None:
    """Whoever guesses the pixels before encoding computes it; ten thousand guesses, the true one
    among them."""
    true = large_still(name)
    guesses = {unique_identifier(true)}
    for number in range(CANDIDATES - 1):
        guess = true.copy()
        guess.putpixel((40 + number % 8, 2 + number // 8 % 4), (number % 256, number // 256, 1))
        guesses.add(unique_identifier(guess))
    assert len(guesses) == CANDIDATES
    made, pack, _ = redacted(
        big_day, tmp_path / "p.zip", capture=capture, name=name, index=index_of_pack
    )
    assert not guesses.intersection(identifiers_in(pack))
    (still,) = (
        one for one in made.plan.revealed if one.values.get("record_kind") == "still"
    )  # fmt: skip
    assert {"image_unique_id", "raw:ImageUniqueID", "path"} <= {*still.line.closed}
    released = make(
        big_day,
        decided(opened_bundle(big_day), [capture]),
        tmp_path / "released.zip",
        index=index_of_pack,
    )[1]
    assert guesses.intersection(identifiers_in(released)) == {unique_identifier(true)}, "it works"


def identifiers_in(pack: bytes) -> set[str]:
    return {
        run[at : at + 32].decode()
        for run in _HEX.findall(every_byte(pack))
        for at in range(len(run) - 31)
    }


PLATED = "ZZ 4173 Q"


def with_plates(folder: Path) -> None:
    """Each reading has a plate that nobody can have; that of C2 is the one to be guessed."""
    day, log = folder / "day.toml", folder / "export" / "readings.csv"
    text = day.read_text("utf-8")
    day.write_text(text.replace('capture = "Ref"', 'capture = "Ref"\nplate = "Plate"'), "utf-8")
    head, *rows = log.read_text("utf-8").splitlines()
    plates = ["ZZ 0001 Q", PLATED, "ZZ 9999 Q"]
    lines = [f"{row},{plate}" for row, plate in zip(rows, plates, strict=True)]
    log.write_text("\n".join([f"{head},Plate", *lines, ""]), "utf-8")


def test_no_withheld_plate_can_be_confirmed_among_ten_thousand(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    day = changed_day(tmp_path / "day", sealed_day, with_plates)
    bundle = opened_bundle(day)
    decisions = simple_decisions(bundle)
    _, pack = make(day, decisions, tmp_path / "p.zip", bundle=bundle, index=index_of_pack)
    everything, known, salts = every_byte(pack), runs_in(pack, 32), runs_in(pack, 16)
    candidates = [f"ZZ {number:04d} Q" for number in range(CANDIDATES)]
    _, values = withheld_reading(bundle)
    assert values["plate"] in candidates
    stand_there = [one for one in candidates if one.encode() in everything]
    assert stand_there == ["ZZ 0001 Q"]  # that of the case
    assert not [one for one in candidates if known & plain_digests(one)]
    for name in ("plate", "raw:Plate"):
        assert not known.intersection(commitments(name, PLATED, salts)), name
        assert known.intersection(commitments(name, "ZZ 0001 Q", salts)), "the way works"


ENCODINGS = [("C1", "C1_0001.jpg", jpeg), ("C2", "C2_0002.png", lossless)]


@pytest.mark.parametrize(("capture", "name", "encode"), ENCODINGS)
def test_no_plate_under_a_box_can_be_confirmed_by_making_ten_thousand_stills(
    sealed_day: SealedDay, tmp_path: Path, capture: str, name: str, encode: Encode
) -> None:
    """The attacker knows every pixel but the plate's letters, and how the camera encodes."""

    def change(folder: Path) -> None:
        still = street(WIDTH_PX, HEIGHT_PX, plate=TRUE, at=AT)
        (folder / "export" / "stills" / name).write_bytes(encode(still))

    day = changed_day(tmp_path / "day", sealed_day, change)
    bundle = opened_bundle(day)
    number = still_of(bundle, name)
    box = f'[[redact]]\nentry = {number}\nboxes = [[4, 4, 44, 14]]\nreason = "third-party"\n'
    _, pack, _ = redacted(
        day, tmp_path / "p.zip", capture=capture, name=name, more=box, index=index_of_pack
    )
    decisions = decided(bundle, [capture])
    _, released = make(day, decisions, tmp_path / "whole.zip", bundle=bundle, index=index_of_pack)
    known, shown = ({n: runs_in(one, n) for n in (16, 20, 32)} for one in (pack, released))
    everything = every_byte(pack)
    confirmed, found = [], []
    for plate, original in guesses(encode):
        digests = [made(original).digest() for made in (hashlib.md5, hashlib.sha1, hashlib.sha256)]
        if any(digest in known[len(digest)] for digest in digests):
            confirmed.append(plate)
        if any(digest in shown[len(digest)] for digest in digests):
            found.append(plate)
    assert confirmed == []
    assert found == [TRUE], "released whole, it would be found"
    true = encode(street(WIDTH_PX, HEIGHT_PX, plate=TRUE, at=AT))
    assert true[-64:-16] not in everything
    assert not known[32].intersection(commitments("size", len(true), known[16]))


def test_metadata_earlier_versions_and_hidden_text_are_absent_from_the_index(
    real_pack: tuple[MadePack, bytes],
) -> None:
    from pypdf import PdfReader

    data = parts(real_pack[1])[layout.INDEX]
    assert data.count(b"%%EOF") == 1
    assert data.count(b"startxref") == 1
    reader = PdfReader(io.BytesIO(data))
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert "C1" in text
    for secret in ("C2_0002", "09:20:30", "not a speed"):
        assert secret not in text
        assert secret not in str(reader.metadata)
    assert not reader.attachments


@pytest.mark.parametrize(("capture", "name"), [("C1", "C1_0001.jpg"), ("C2", "C2_0002.png")])
def test_nothing_of_a_redacted_stills_original_is_left_in_pack_or_index(
    big_day: SealedDay, tmp_path: Path, capture: str, name: str
) -> None:
    """Its EXIF texts, its bytes, its thumbnail: in no member, in no stream, in no picture of the PDF."""
    from pypdf import PdfReader

    original = (big_day.folder / "export" / "stills" / name).read_bytes()
    made, pack, number = redacted(
        big_day, tmp_path / "p.zip", capture=capture, name=name, index=index_of_pack
    )
    everything = every_byte(pack)
    assert b"hidden words" in original
    for secret in (b"hidden words", name.encode(), original[-80:-16]):
        assert secret not in everything, secret
    members = parts(pack)
    copies = [members[layout.exhibit_picture(made.plan.lines[number].exhibit or 0)]]
    reader = PdfReader(io.BytesIO(members[layout.INDEX]))
    copies += [picture.data for page in reader.pages for picture in page.images]
    assert len(copies) >= 3  # the copy, and reduced in two chapters of the index
    for copy in copies:
        with Image.open(io.BytesIO(copy)) as picture:
            assert not picture.getexif()
            assert not {"exif", "xmp", "comment", "icc_profile"} & picture.info.keys()
