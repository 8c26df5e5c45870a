from __future__ import annotations

import hmac
import re
from pathlib import Path

import cryptography_vectors
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.proof.salts import KEY_BYTES, SALT_BYTES, require_salt, salt_maker
from tests.proof import reference

KEYS = st.binary(min_size=KEY_BYTES, max_size=KEY_BYTES)


@given(KEYS, st.lists(st.binary(max_size=200), min_size=1, max_size=4))
def test_a_salt_is_the_beginning_of_the_hmac(key: bytes, messages: list[bytes]) -> None:
    salt_of = salt_maker(key)
    for message in messages:
        # Twice, so that a state shared between calls would show.
        assert salt_of(message) == salt_of(message)
        assert salt_of(message) == hmac.digest(key, message, "sha256")[:16]
        assert salt_of(message) == reference.hmac_sha256(key, message)[:16]


def test_salts_are_those_of_rfc_4231() -> None:
    # RFC 4231 has no key of 32 bytes; shorter ones are padded with the zeros that RFC 2104 §2
    # would add anyway.  The file is that of the package cryptography-vectors.
    path = Path(cryptography_vectors.__file__).parent / "HMAC" / "rfc-4231-sha256.txt"
    text = re.sub(r"(?m)^#.*\n", "", path.read_text())
    cases = re.findall(r"Key = ([0-9a-f]+)\s+Msg = ([0-9a-f]+)\s+MD = ([0-9a-f]{64})", text)
    short = [case for case in cases if len(case[0]) <= 2 * KEY_BYTES]
    assert len(short) == 4
    for key, message, digest in short:
        salt_of = salt_maker(bytes.fromhex(key).ljust(KEY_BYTES, b"\x00"))
        assert salt_of(bytes.fromhex(message)).hex() == digest[: 2 * SALT_BYTES]


@pytest.mark.parametrize("length", [0, 16, 31, 33, 64, 65])
def test_a_key_of_another_length_is_refused(length: int) -> None:
    with pytest.raises(ProofError, match="key for salts is of the wrong length") as caught:
        salt_maker(bytes(length))
    assert (caught.value.expected, caught.value.observed) == ("32 bytes", f"{length} bytes")


@pytest.mark.parametrize("length", [0, 15, 17, 32])
def test_a_salt_of_another_length_is_refused_by_name(length: int) -> None:
    with pytest.raises(ProofError, match="the salt of tile 7 is of the wrong length") as caught:
        require_salt(bytes(length), "tile 7")
    assert (caught.value.expected, caught.value.observed) == ("16 bytes", f"{length} bytes")


def test_a_salt_of_the_right_length_is_given_back() -> None:
    assert require_salt(b"0123456789abcdef", "it") == b"0123456789abcdef"
