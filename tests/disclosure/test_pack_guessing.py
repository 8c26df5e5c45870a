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
from tests.disclosure.deciding import decided
from tests.disclosure.packs import make, opened_bundle, parts, simple_decisions
from tests.disclosure.pictures import large_still, unique_identifier
from tests.disclosure.redacting import redacted
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


def every_byte(pack: bytes) -> bytes:
    """All that can be read from a pack: every member, and what is compressed inside PDF and PNG."""
    found = [pack]
    for data in parts(pack).values():
        found.append(data)
        for start in (found.start() for found in re.finditer(b"\x78[\x01\x5e\x9c\xda]", data)):
            try:
                found.append(zlib.decompressobj().decompress(data[start:]))
            except zlib.error:
                continue
    return b"\n".join(found)


def proof_of(pack: bytes) -> Iterator[bytes]:
    for name, data in parts(pack).items():
        if not name.startswith(layout.DATA) and name != layout.INDEX:
            yield data


def runs_in(pack: bytes, length: int) -> set[bytes]:
    """Every run of so many bytes in the proof, raw and from hex: digests, salts, keys."""
    found: set[bytes] = set()
    for data in proof_of(pack):
        found |= {data[at : at + length] for at in range(len(data) - length + 1)}
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
    made, pack, number = redacted(big_day, tmp_path / "p.zip", capture=capture, name=name)
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
    made, pack, _ = redacted(big_day, tmp_path / "p.zip", capture=capture, name=name)
    assert not guesses.intersection(identifiers_in(pack))
    (still,) = (
        one for one in made.plan.revealed if one.values.get("record_kind") == "still"
    )  # fmt: skip
    assert {"image_unique_id", "raw:ImageUniqueID", "path"} <= {*still.line.closed}
    released = make(
        big_day,
        decided(opened_bundle(big_day), [capture]),
        tmp_path / "released.zip",
    )[1]
    assert guesses.intersection(identifiers_in(released)) == {unique_identifier(true)}, "it works"


def identifiers_in(pack: bytes) -> set[str]:
    return {
        run[at : at + 32].decode()
        for run in _HEX.findall(every_byte(pack))
        for at in range(len(run) - 31)
    }


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
