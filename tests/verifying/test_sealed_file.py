"""What a file's entry may say. The bytes are those of the key's holder, so form is all that counts."""

from __future__ import annotations

import pytest

from evidpack.errors import ProofError
from evidpack.proof.openings import Opening, parse_opening
from evidpack.verifying.sealed_file import sealed_file

GOOD = {
    "path": "export/stills/C1.jpg",
    "origin": "export",
    "item_kind": "still",
    "size": 7,
    "sha256": "ab" * 32,
    "modified": "2026-05-14T09:00:00.250000Z",
    "pixel_root": "00" * 32,
    "width_px": 64,
    "height_px": 32,
    "decoder": "invented 1.0",
}


def opened(**changes: object) -> Opening:
    values = {name: value for name, value in (GOOD | changes).items() if value is not ...}
    return Opening(key=bytes(32), values=values)  # type: ignore[arg-type]


def test_a_good_entry_is_read() -> None:
    found = sealed_file(3, opened())
    assert (found.entry, found.path, found.size) == (3, "export/stills/C1.jpg", 7)
    assert found.sha256 == bytes.fromhex("ab" * 32)
    assert found.pixel_root == bytes(32)
    assert sealed_file(0, opened(modified="2026-05-14T09:00:00Z")).modified.endswith("00Z")


def test_a_file_without_pixel_proof_has_none_of_its_values() -> None:
    found = sealed_file(0, opened(pixel_root=..., width_px=..., height_px=..., decoder=...))
    assert (found.pixel_root, found.width_px, found.height_px, found.decoder) == (None,) * 4


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"path": None}, 'lacks a text "path"'),
        ({"path": ...}, 'lacks a text "path"'),
        ({"path": "office/day.toml"}, '"path" is not of the right form'),
        ({"path": "exports/x"}, '"path" is not of the right form'),
        ({"origin": "elsewhere"}, '"origin" is not of the right form'),
        ({"origin": "office"}, '"path" is not of the right form'),
        ({"origin": []}, 'lacks a text "origin"'),
        ({"item_kind": "sandwich"}, '"item_kind" is not of the right form'),
        ({"size": -1}, 'lacks a whole number "size"'),
        ({"size": True}, 'lacks a whole number "size"'),
        ({"size": "7"}, 'lacks a whole number "size"'),
        ({"size": 7.5}, 'lacks a whole number "size"'),
        ({"sha256": "AB" * 32}, '"sha256" is no SHA-256 in lower-case hex'),
        ({"sha256": "ab" * 31}, '"sha256" is no SHA-256 in lower-case hex'),
        ({"sha256": "ab " * 32}, '"sha256" is no SHA-256 in lower-case hex'),
        ({"modified": "yesterday"}, '"modified" is not of the right form'),
        ({"modified": "2026-05-14T09:00:00"}, '"modified" is not of the right form'),
        ({"modified": "2026-05-14T09:00:00+00:00"}, '"modified" is not of the right form'),
        ({"modified": "2026-02-30T09:00:00Z"}, '"modified" is not of the right form'),
        ({"modified": "2026-05-14T09:00:00.000000Z"}, '"modified" is not of the right form'),
        ({"modified": "２０２６-05-14T09:00:00Z"}, '"modified" is not of the right form'),
        ({"modified": 7}, 'lacks a text "modified"'),
        ({"original_name": 7}, 'lacks a text "original_name"'),
        ({"pixel_root": "00"}, '"pixel_root" is no SHA-256 in lower-case hex'),
        ({"width_px": "64"}, 'lacks a whole number "width_px"'),
        ({"decoder": None}, 'lacks a text "decoder"'),
    ],
    ids=str,
)
def test_an_entry_of_another_form_is_refused_by_number_and_value(
    changes: dict[str, object], expected: str
) -> None:
    with pytest.raises(ProofError) as caught:
        sealed_file(3, opened(**changes))
    assert caught.value.message.startswith("file entry 3")
    assert expected in caught.value.message
    assert (caught.value.path, caught.value.line) == ("seal/openings.jsonl", 4)


@pytest.mark.parametrize(
    "line",
    [
        b"[]",
        b'{"key":"' + b"0" * 64 + b'"}',
        b'{"key":"' + b"0" * 63 + b'","values":{}}',
        b'{"key":"' + b"g" * 64 + b'","values":{}}',
        b'{"key":"' + b"0" * 64 + b'","values":[]}',
        b'{"key":"' + b"0" * 64 + b'","more":1,"values":{}}',
        b'{"values":{},"key":"' + b"0" * 64 + b'"}',
    ],
)
def test_an_opening_of_another_form_is_refused_by_line(line: bytes) -> None:
    with pytest.raises(ProofError) as caught:
        parse_opening(line, path="seal/openings.jsonl", number=6)
    assert caught.value.line == 7
