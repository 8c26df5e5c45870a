"""What TOML allows and this project does not: keys of very many parts, and endless whole numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from evidpack.errors import DescriptionError
from evidpack.limits import MAX_JSON_DEPTH

# TOML 1.0.0 asks for 64 bits; Python would refuse to show one of many thousand digits.
_MAX_INTEGER: Final = 2**63 - 1

# Strings without an end run to the end of the line, so that every character is looked at once.
_TOKEN: Final = re.compile(
    r"""(?P<part>"(?:[^"\\]|\\.)*"?|'[^']*'?|[A-Za-z0-9_-]+)|(?P<dot>\.)|(?P<space>[ \t]+)|[^.]"""
)


def require_short_keys(text: str, *, path: str) -> None:
    """Refuse a key of very many parts: the time that it takes to read one grows as the square.

    Raises DescriptionError with the line.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") >= MAX_JSON_DEPTH and _longest_key(line) > MAX_JSON_DEPTH:
            raise DescriptionError(
                "a key has too many parts",
                path=path,
                line=number,
                expected=f"at most {MAX_JSON_DEPTH} parts with dots between them",
                observed="more",
            )


def _longest_key(line: str) -> int:
    """The most parts that stand in a row with dots between them."""
    longest = parts = 0
    after_dot = False
    for token in _TOKEN.finditer(line):
        kind = token.lastgroup
        if kind == "space":
            continue
        if kind == "part":
            parts = parts + 1 if after_dot else 1
            longest = max(longest, parts)
        elif kind is None:
            parts = 0
        after_dot = kind == "dot" and parts > 0
    return longest


def endless_number(values: Mapping[str, Any]) -> tuple[str | int, ...] | None:
    """Where a whole number of more than 64 bits stands, as keys and places; None where none does."""
    left: list[tuple[tuple[str | int, ...], Any]] = [((), values)]
    while left:
        key, value = left.pop()
        if isinstance(value, Mapping):
            left.extend(((*key, name), inner) for name, inner in value.items())
        elif isinstance(value, list):
            left.extend(((*key, number), inner) for number, inner in enumerate(value))
        elif isinstance(value, int) and not -_MAX_INTEGER - 1 <= value <= _MAX_INTEGER:
            return key
    return None
