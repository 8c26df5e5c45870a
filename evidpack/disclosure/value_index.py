"""Values to look for in texts, found as whole words whatever their case and spaces."""

from __future__ import annotations

import re
from typing import Final

_WORD: Final = re.compile(r"\w+", re.UNICODE)
MIN_CHARACTERS: Final = 3


class ValueIndex:
    """Values by their first word, so that a text is compared with few of them."""

    def __init__(self) -> None:
        self._by_word: dict[str, dict[str, set[int]]] = {}

    def add(self, value: str, entry: int) -> None:
        """Look for this value, of this entry."""
        folded = _folded(value)
        words = _WORD.findall(folded)
        if words and len(folded) >= MIN_CHARACTERS:
            self._by_word.setdefault(words[0], {}).setdefault(folded, set()).add(entry)

    def find(self, text: str) -> set[int]:
        """The entries a value of which stands in the text, as whole words."""
        folded = _folded(text)
        found: set[int] = set()
        for word in set(_WORD.findall(folded)):
            for value, entries in self._by_word.get(word, {}).items():
                if _stands_in(value, folded):
                    found |= entries
        return found


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _stands_in(value: str, text: str) -> bool:
    """Whether the value stands in the text, not as a part of a longer word or number."""
    at = text.find(value)
    while at >= 0:
        before, after = text[at - 1 : at], text[at + len(value) : at + len(value) + 1]
        if not (_joins(before, value[0]) or _joins(after, value[-1])):
            return True
        at = text.find(value, at + 1)
    return False


def _joins(neighbour: str, edge: str) -> bool:
    return neighbour.isalnum() and edge.isalnum()
