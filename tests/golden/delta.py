"""A spoiled file as what it takes from a good one and what it adds, so that it needs little room.

A delta is a list of steps: ``[at, count]`` takes bytes of the good file, a text of hex digits adds
bytes.  It is not a recipe that is run anew but the very bytes, written shorter.
"""

from __future__ import annotations

from typing import Final

Delta = list[list[int] | str]

_BLOCK: Final = 24


def applied(good: bytes, delta: Delta) -> bytes:
    """The spoiled file."""
    pieces = []
    for step in delta:
        if isinstance(step, str):
            pieces.append(bytes.fromhex(step))
        else:
            at, count = step
            assert 0 <= at <= at + count <= len(good)
            pieces.append(good[at : at + count])
    return b"".join(pieces)


def delta_between(good: bytes, spoiled: bytes) -> Delta:
    """Steps that make `spoiled` of `good`: as far as possible, stretches of it."""
    blocks = {good[at : at + _BLOCK]: at for at in range(0, len(good) - _BLOCK, 4)}
    steps: Delta = []
    new = bytearray()
    at = 0
    while at < len(spoiled):
        start = blocks.get(spoiled[at : at + _BLOCK])
        if start is None:
            new.append(spoiled[at])
            at += 1
            continue
        count = _BLOCK
        while (
            at + count < len(spoiled)
            and good[start + count : start + count + 1] == (spoiled[at + count : at + count + 1])
        ):
            count += 1
        _flush(steps, new)
        steps.append([start, count])
        at += count
    _flush(steps, new)
    assert applied(good, steps) == spoiled
    return steps


def _flush(steps: Delta, new: bytearray) -> None:
    if new:
        steps.append(bytes(new).hex())
        new.clear()
