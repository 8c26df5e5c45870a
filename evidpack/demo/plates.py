"""Registration marks that can't be issued.

A mark has seven characters: two of I, O and Q, a digit, an equals sign, two digits, one of I, O
and Q.  Registration marks are letters and digits with at most a space, a hyphen, a dot or an
emblem between them; an equals sign stands in none (common knowledge, no source).
"""

from __future__ import annotations

import random
import re
from typing import Final

_LETTERS: Final = "IOQ"
IMPOSSIBLE: Final = re.compile(r"[IOQ]{2}[0-9]=[0-9]{2}[IOQ]")


def invent_plates(count: int, rng: random.Random) -> tuple[str, ...]:
    """So many different marks."""
    found: dict[str, None] = {}
    while len(found) < count:
        letters = [rng.choice(_LETTERS) for _ in range(3)]
        digits = f"{rng.randrange(1000):03d}"
        found[f"{letters[0]}{letters[1]}{digits[0]}={digits[1:]}{letters[2]}"] = None
    return tuple(found)
