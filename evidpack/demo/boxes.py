"""A small ISO/IEC 14496-12 file of one video track whose samples are JPEG pictures.

Boxes are a 32-bit size, a four-character type and a body (§4.2); field layouts of version 0
boxes are from memory and read back by an independent reader in the tests.  The sample entry is
``mp4v`` with an ``esds`` box of object type 0x6C, JPEG (ISO/IEC 14496-1).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

_EPOCH: Final = datetime(1904, 1, 1, tzinfo=UTC)  # times in mvhd count from here
_MATRIX: Final = struct.pack(">9l", 0x10000, 0, 0, 0, 0x10000, 0, 0, 0, 0x40000000)
_LANGUAGE_UND: Final = 0x55C4


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """Frames of equal length. `scale` ticks a second, `ticks` a frame; `size` in pixels."""

    frames: Sequence[bytes]
    size: tuple[int, int]
    scale: int
    ticks: int
    created: datetime

    @property
    def duration(self) -> int:
        """In ticks."""
        return self.ticks * len(self.frames)


def film_file(film: Film) -> bytes:
    """The file: ftyp, mdat, moov. Raises ValueError for a film of no frames."""
    if not film.frames:
        raise ValueError("a film needs a frame")
    head = _box(b"ftyp", b"isom", struct.pack(">L", 0x200), b"isom", b"mp41")
    data = _box(b"mdat", *film.frames)
    return head + data + _movie(film, data_at=len(head) + 8)


def _box(kind: bytes, *parts: bytes) -> bytes:
    body = b"".join(parts)
    return struct.pack(">L", 8 + len(body)) + kind + body


def _full(kind: bytes, *parts: bytes, flags: int = 0) -> bytes:
    return _box(kind, struct.pack(">L", flags), *parts)  # version 0


def _times(film: Film) -> bytes:
    created = int((film.created - _EPOCH).total_seconds())
    return struct.pack(">LL", created, created)


def _movie(film: Film, *, data_at: int) -> bytes:
    header = _full(
        b"mvhd",
        _times(film),
        struct.pack(">LLlh", film.scale, film.duration, 0x10000, 0x100),
        bytes(10),
        _MATRIX,
        bytes(24),
        struct.pack(">L", 2),  # next track
    )
    return _box(b"moov", header, _track(film, data_at))


def _track(film: Film, data_at: int) -> bytes:
    width, height = film.size
    header = _full(
        b"tkhd",
        _times(film),
        struct.pack(">LLL", 1, 0, film.duration),
        bytes(16),
        _MATRIX,
        struct.pack(">LL", width << 16, height << 16),
        flags=3,  # enabled, in the movie
    )
    media = _box(
        b"mdia",
        _full(b"mdhd", _times(film),
              struct.pack(">LLHH", film.scale, film.duration, _LANGUAGE_UND, 0)),
        _full(b"hdlr", bytes(4), b"vide", bytes(12), b"invented demonstration clip\0"),
        _box(
            b"minf",
            _full(b"vmhd", bytes(8), flags=1),
            _box(b"dinf", _full(b"dref", struct.pack(">L", 1), _full(b"url ", flags=1))),
            _samples(film, data_at),
        ),
    )  # fmt: skip
    return _box(b"trak", header, media)


def _samples(film: Film, data_at: int) -> bytes:
    count = len(film.frames)
    sizes = [len(frame) for frame in film.frames]
    return _box(
        b"stbl",
        _full(b"stsd", struct.pack(">L", 1), _entry(film)),
        _full(b"stts", struct.pack(">LLL", 1, count, film.ticks)),
        _full(b"stsc", struct.pack(">LLLL", 1, 1, count, 1)),  # one chunk holds all
        _full(b"stsz", struct.pack(f">LL{count}L", 0, count, *sizes)),
        _full(b"stco", struct.pack(">LL", 1, data_at)),
    )


def _entry(film: Film) -> bytes:
    width, height = film.size
    largest = max(len(frame) for frame in film.frames)
    rate = sum(len(frame) for frame in film.frames) * 8 * film.scale // film.duration
    config = struct.pack(">BBBHLL", 0x6C, 0x11, largest >> 16, largest & 0xFFFF, rate, rate)
    stream = struct.pack(">HB", 1, 0) + _descriptor(4, config) + _descriptor(6, b"\x02")
    return _box(
        b"mp4v",
        bytes(6),
        struct.pack(">H", 1),
        bytes(16),
        struct.pack(">HHLLLH", width, height, 0x480000, 0x480000, 0, 1),
        bytes(32),
        struct.pack(">Hh", 24, -1),
        _full(b"esds", _descriptor(3, stream)),
    )


def _descriptor(tag: int, body: bytes) -> bytes:
    return bytes((tag, len(body))) + body  # all are shorter than 128 bytes
