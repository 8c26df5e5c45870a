"""The captures that a subject names: ``capture 7``, ``captures 1–4, 7``, ``captures 1, 3 and 5 more``."""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Final

_LIST: Final = re.compile(r"\bcaptures? (\d+(?:–\d+)?(?:, \d+(?:–\d+)?)*)( and \d+ more)?")
_RUN: Final = re.compile(r"(\d+)(?:–(\d+))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedCaptures:
    """Runs (first, last) of the numbers named, and whether more are only counted."""

    runs: tuple[tuple[int, int], ...]
    more: bool

    def __bool__(self) -> bool:
        """Whether any capture is named."""
        return bool(self.runs)

    def may_be_among(self, numbers: AbstractSet[int]) -> bool:
        """Whether one of these numbers is named, or may be among those that are only counted."""
        found = any(first <= number <= last for first, last in self.runs for number in numbers)
        return found or (self.more and bool(numbers))


def named_captures(subject: str) -> NamedCaptures:
    """The captures that the subject of a finding or of a note names."""
    lists = list(_LIST.finditer(subject))
    return NamedCaptures(
        runs=tuple(
            (int(run[1]), int(run[2] or run[1])) for one in lists for run in _RUN.finditer(one[1])
        ),
        more=any(one[2] is not None for one in lists),
    )
