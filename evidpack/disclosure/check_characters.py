"""Short codes that people read out and type: 32 characters, the last of which checks the others.

The characters are taken as elements of the field of 32 elements, weighted by the powers of a
generator, no two of the 31 alike: one character that is wrong, and any two that have changed
places, are always noticed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

# No I, O, 0, 1: none of these can be taken for another.
ALPHABET: Final = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
MAX_CHARACTERS: Final = 31

_BITS: Final = 5
_REDUCTION: Final = 0b100101  # x⁵ + x² + 1, primitive over GF(2)
_GROUP_CHARACTERS: Final = 4


def _times_generator(value: int) -> int:
    value <<= 1
    return value ^ _REDUCTION if value >> _BITS else value


def _remainder(characters: str) -> int:
    """Horner's rule: the weighted sum of all characters."""
    total = 0
    for character in characters:
        total = _times_generator(total) ^ ALPHABET.index(character)
    return total


def with_check(characters: str) -> str:
    """The characters, all of `ALPHABET` and at most 30, and behind them the one that checks them."""
    if len(characters) >= MAX_CHARACTERS:
        raise ValueError(f"{len(characters)} characters, and at most 30 can be checked")
    return characters + ALPHABET[_times_generator(_remainder(characters))]


def checks(characters: str) -> bool:
    """Whether the last character is the one that belongs to the others."""
    return len(characters) <= MAX_CHARACTERS and _remainder(characters) == 0


def drawn(count: int, random: Callable[[int], bytes]) -> str:
    """So many random characters; `random` gives random bytes, of each of which 5 bits are used."""
    return "".join(ALPHABET[byte % len(ALPHABET)] for byte in random(count))


def grouped(characters: str) -> str:
    """Groups of four, joined by hyphens."""
    return "-".join(
        characters[at : at + _GROUP_CHARACTERS]
        for at in range(0, len(characters), _GROUP_CHARACTERS)
    )


def plain(text: str) -> str:
    """What somebody typed, without spaces and hyphens, in capitals."""
    return "".join(text.split()).replace("-", "").upper()


def strange(characters: str) -> str | None:
    """The first character that no code has, or None."""
    return next((one for one in characters if one not in ALPHABET), None)
