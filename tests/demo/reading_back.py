"""Small readers of what the demo writes, with general libraries only."""

from __future__ import annotations

import csv
import struct
from collections.abc import Iterator
from pathlib import Path

FORBIDDEN_MARK_CHARACTER = "="


def rows(path: Path, *, encoding: str = "utf-8", delimiter: str = ",") -> list[dict[str, str]]:
    with path.open(encoding=encoding, newline="") as stream:
        return list(csv.DictReader(stream, delimiter=delimiter))


def boxes(data: bytes, start: int = 0, end: int | None = None) -> Iterator[tuple[str, int, int]]:
    """Type, start and end of the body of each box in a stretch of bytes; they must tile it."""
    end = len(data) if end is None else end
    while start < end:
        size, kind = struct.unpack_from(">L4s", data, start)
        assert size >= 8, f"box at {start} of {size} bytes"
        assert start + size <= end, f"box at {start} runs past {end}"
        yield kind.decode("ascii"), start + 8, start + size
        start += size


def box(data: bytes, *path: str) -> bytes:
    """The body of the one box at a path such as moov, trak."""
    start, end = 0, len(data)
    for name in path:
        found = [(s, e) for kind, s, e in boxes(data, start, end) if kind == name]
        assert len(found) == 1, f"{len(found)} boxes {name}"
        start, end = found[0]
    return data[start:end]
