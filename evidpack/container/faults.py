"""One thing wrong with a bag: found by hashing its members or by comparing its lists."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BagFault:
    """One thing wrong with a bag.

    Attributes:
        item: name of the member, relative to the top folder.
        message: what is wrong with it.
        expected: what was listed or required.
        observed: what was found.
    """

    item: str
    message: str
    expected: str
    observed: str
