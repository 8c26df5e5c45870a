"""The passphrase of a pack: strong, of the form that the container takes, and checked when typed."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.container.aes_zip import decrypt_pack, encrypt_pack, read_passphrase
from evidpack.disclosure.check_characters import ALPHABET
from evidpack.disclosure.passphrase import RANDOM_BITS, new_passphrase, require_passphrase
from evidpack.errors import UsageError
from tests.sealed_days import FixedRandom
from tests.tools import require_program

seeds = st.integers(0, 2**32).map(lambda seed: new_passphrase(FixedRandom(seed)))
GIVEN = new_passphrase(FixedRandom(9))


def test_it_holds_at_least_128_random_bits() -> None:
    assert RANDOM_BITS >= 128
    drawn = set()
    for place in range(27):
        for value in range(32):
            fixed = bytearray(27)
            fixed[place] = value
            drawn.add(new_passphrase(lambda count, fixed=fixed: bytes(fixed)))
    # Every value of every place gives another passphrase: 31 of each but the common all-nought one.
    assert len(drawn) == 27 * 31 + 1


@given(passphrase=seeds)
def test_it_is_of_the_form_that_encryption_takes(passphrase: str) -> None:
    assert read_passphrase(passphrase) == passphrase
    assert require_passphrase(passphrase) == passphrase
    assert [len(group) for group in passphrase.split("-")] == [4] * 7


@given(passphrase=seeds)
def test_case_spaces_and_hyphens_are_free(passphrase: str) -> None:
    assert require_passphrase(passphrase.lower().replace("-", "")) == passphrase
    assert require_passphrase(f"  {passphrase.replace('-', ' - ')}\n") == passphrase


@given(passphrase=seeds, data=st.data())
def test_a_typing_error_is_refused_and_not_repeated(passphrase: str, data: st.DataObject) -> None:
    characters = list(passphrase)
    place = data.draw(st.sampled_from([n for n, one in enumerate(characters) if one != "-"]))
    characters[place] = data.draw(st.sampled_from(ALPHABET.replace(characters[place], "")))
    typed = "".join(characters)
    with pytest.raises(UsageError, match="not typed as it stands on the slip") as caught:
        require_passphrase(typed)
    said = f"{caught.value} {caught.value.hint} {caught.value.expected} {caught.value.observed}"
    assert not any(group in said for group in typed.split("-"))


@pytest.mark.parametrize(
    ("typed", "observed"),
    [
        ("", "0 characters"),
        (GIVEN[:-1], "27 characters"),
        (GIVEN + "A", "29 characters"),
        (GIVEN[:-1] + "0", "another character among them"),
        ("I" + GIVEN[1:], "another character among them"),
        (GIVEN[:-1] + "é", "another character among them"),
    ],
)
def test_another_form_is_refused_with_what_is_wrong(typed: str, observed: str) -> None:
    with pytest.raises(UsageError, match="not typed as it stands") as caught:
        require_passphrase(typed)
    assert caught.value.observed == observed


def test_two_groups_in_each_others_place_are_refused() -> None:
    groups = GIVEN.split("-")
    groups[0], groups[3] = groups[3], groups[0]
    with pytest.raises(UsageError, match="not typed as it stands"):
        require_passphrase("-".join(groups))


def test_a_pack_encrypted_with_it_opens_with_it_and_with_7z(tmp_path: Path) -> None:
    pack = FixedRandom(3)(5000)
    target = io.BytesIO()
    encrypt_pack(io.BytesIO(pack), len(pack), target, passphrase=GIVEN, salt=FixedRandom(4)(16))
    opened = io.BytesIO()
    decrypt_pack(target, opened, passphrase=require_passphrase(GIVEN.lower()), path="pack.zip")
    assert opened.getvalue() == pack
    program = require_program("7z")
    (tmp_path / "encrypted.zip").write_bytes(target.getvalue())
    subprocess.run(
        [program, "x", f"-p{GIVEN}", "-oinside", "encrypted.zip"],
        cwd=tmp_path,
        check=True,
        capture_output=True,
        stdin=subprocess.DEVNULL,
    )
    assert [path.read_bytes() for path in (tmp_path / "inside").iterdir()] == [pack]
