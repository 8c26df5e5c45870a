"""Codes with a check character: no single error and no change of places goes unnoticed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.disclosure.check_characters import (
    ALPHABET,
    checks,
    drawn,
    grouped,
    plain,
    strange,
    with_check,
)

codes = st.text(alphabet=ALPHABET, min_size=1, max_size=30)


def slow_sum(characters: str) -> int:
    """The weighted sum by polynomial multiplication over GF(2), modulo x⁵ + x² + 1."""
    total = 0
    for place, character in enumerate(reversed(characters)):
        product = ALPHABET.index(character) << place
        for bit in range(product.bit_length() - 1, 4, -1):
            if product >> bit & 1:
                product ^= 0b100101 << bit - 5
        total ^= product
    return total


@given(code=codes)
def test_the_last_character_makes_the_weighted_sum_nought(code: str) -> None:
    assert slow_sum(with_check(code)) == 0
    assert checks(with_check(code))


@given(code=codes, data=st.data())
def test_one_wrong_character_is_noticed(code: str, data: st.DataObject) -> None:
    whole = with_check(code)
    place = data.draw(st.integers(0, len(whole) - 1))
    wrong = data.draw(st.sampled_from(ALPHABET.replace(whole[place], "")))
    assert not checks(whole[:place] + wrong + whole[place + 1 :])


@given(code=codes, data=st.data())
def test_two_characters_in_each_others_place_are_noticed(code: str, data: st.DataObject) -> None:
    whole = list(with_check(code))
    one = data.draw(st.integers(0, len(whole) - 1))
    other = data.draw(st.integers(0, len(whole) - 1))
    different = whole[one] != whole[other]
    whole[one], whole[other] = whole[other], whole[one]
    assert checks("".join(whole)) == (not different)


def test_every_single_error_and_swap_in_one_long_code_is_noticed() -> None:
    whole = with_check("7QXM2KD93HWTR5NBPVC8EZJ4GAS")
    for place, right in enumerate(whole):
        for wrong in ALPHABET:
            assert checks(whole[:place] + wrong + whole[place + 1 :]) == (wrong == right)


def test_no_characters_that_look_alike() -> None:
    assert len(set(ALPHABET)) == 32
    assert not set(ALPHABET) & set("IO01")


def test_a_code_too_long_to_be_checked_is_refused() -> None:
    assert len(with_check("A" * 30)) == 31
    with pytest.raises(ValueError, match="at most 30"):
        with_check("A" * 31)
    assert not checks("2" * 32)


def test_drawing_uses_five_bits_of_each_byte() -> None:
    assert drawn(4, lambda count: bytes([0, 31, 32, 255][:count])) == "2Z2Z"


def test_what_is_typed_is_brought_to_one_form() -> None:
    assert plain(" ab3c - d4e5\n") == "AB3CD4E5"
    assert grouped("AB3CD4E5F") == "AB3C-D4E5-F"


def test_a_character_that_no_code_has_is_found() -> None:
    assert strange("AB3I") == "I"
    assert strange("AB3C") is None
