"""On which line of a rule file something stands, for error messages only."""

from __future__ import annotations

import re
from collections.abc import Sequence


def find_line(lines: Sequence[str], where: str | tuple[str, str]) -> int | None:
    """The 1-based line of a top-level key, or of (value key, part); None where not found.

    A part that is not found gives the line on which its value's table begins.
    """
    if isinstance(where, str):
        return _first(lines, rf"""\s*(\[\s*)?["']?{re.escape(where)}["']?\s*[=.\]]""")
    key, part = where
    name = rf"""["']?{re.escape(key)}["']?"""
    start = _first(lines, rf"\s*(\[\s*values\s*\.\s*{name}\s*\]|(values\s*\.\s*)?{name}\s*[=.])")
    if start is None:
        return None
    inside = _first(lines, rf"\s*{re.escape(part)}\s*=", start, stop=r"\s*\[\s*\w")
    return inside or start


def find_item(lines: Sequence[str], key: str, item: str) -> int | None:
    """The 1-based line of a text in the list of a top-level key, else of the key."""
    start = find_line(lines, key)
    if start is None:
        return None
    inside = _first(lines, rf""".*["']{re.escape(item)}["']""", start - 1, stop=r"\s*\[\s*\w")
    return inside or start


def _first(
    lines: Sequence[str], pattern: str, start: int = 0, *, stop: str | None = None
) -> int | None:
    for number in range(start, len(lines)):
        if stop is not None and re.match(stop, lines[number]):
            return None
        if re.match(pattern, lines[number]):
            return number + 1
    return None
