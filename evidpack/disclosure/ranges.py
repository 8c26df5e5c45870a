"""Numbers of entries as people write them: ``3-7, 12``."""

from __future__ import annotations

import re
from typing import Final

from evidpack.errors import ProofError
from evidpack.limits import MAX_ENTRIES

_RANGE: Final = re.compile(r"(\d{1,9})(?:\s*-\s*(\d{1,9}))?")


def parse_ranges(text: str) -> list[int]:
    """Numbers in ``3-7, 12``; none in a blank text, as where all were decided by themselves.

    Raises ProofError for another form or too many.
    """
    found: list[int] = []
    if not text.strip():
        return found
    for part in text.split(","):
        matched = _RANGE.fullmatch(part.strip())
        if matched is None:
            raise ProofError(f"entries are numbers and ranges, and {part.strip()!r} is neither")
        first, last = int(matched[1]), int(matched[2] or matched[1])
        if last < first or last - first + len(found) >= MAX_ENTRIES:
            raise ProofError(f"the range {part.strip()!r} runs backwards or is too long")
        found.extend(range(first, last + 1))
    return found


def format_ranges(numbers: list[int]) -> str:
    """Sorted numbers as ``3-7, 12``."""
    parts: list[str] = []
    start = previous = None
    for number in [*numbers, None]:
        if previous is not None and number == previous + 1:
            previous = number
            continue
        if start is not None:
            parts.append(str(start) if start == previous else f"{start}-{previous}")
        start = previous = number
    return ", ".join(parts)
