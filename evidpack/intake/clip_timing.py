"""When each frame of a clip is due, from its sample table, without decoding a picture.

Reads the boxes of ISO/IEC 14496-12 (box layout §4.2, time-to-sample box §8.6.1.2; field layouts
from memory): ``ftyp`` first, then ``moov`` with ``mvhd`` and, of the first track whose handler is
``vide``, the time scale of ``mdhd`` and the steps of ``stts``.  The times are decoding times from
the start of the track: edit lists and composition offsets move or reorder frames, they don't
change how many there are a second.  Every other box is passed over unread.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO, Final

from evidpack.limits import MAX_CLIP_BOXES, MAX_CLIP_FRAMES, MAX_CLIP_SECONDS

_DIGITS: Final = 6  # microseconds, as check 9 compares them
_HEAD_BYTES: Final = 8
_LARGE_HEAD_BYTES: Final = 16
_MOST_HEADER_BYTES: Final = 32  # of mvhd, mdhd and hdlr up to what is read here
_TO_THE_END: Final = 0
_LARGE: Final = 1


class ClipTimingError(ValueError):
    """A clip whose frame times can't be read; the message says why and at which byte."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """A box: its four-character type, and where its body begins and ends in the file."""

    kind: bytes
    at: int
    end: int


def frame_times_s(stream: BinaryIO, *, size: int) -> tuple[float, ...]:
    """The times of the frames of the first video track, in seconds from its start.

    `stream` is seekable and `size` bytes long.  Raises ClipTimingError for a file that is none of
    this kind, is broken, has no video track or goes beyond MAX_CLIP_FRAMES, MAX_CLIP_BOXES or
    MAX_CLIP_SECONDS; OSError for an error of the disk.
    """
    return _Reader(stream).times(size)


class _Reader:
    """Reads boxes and counts them: the nesting is fixed, so the count bounds all work."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._seen = 0

    def times(self, size: int) -> tuple[float, ...]:
        movie = self._movie(size)
        parts = list(self._boxes(movie))
        self._header(_only(parts, b"mvhd", movie))
        for track in parts:
            if track.kind != b"trak":
                continue
            media_box = _only(list(self._boxes(track)), b"mdia", track)
            media = list(self._boxes(media_box))
            handler = self._body(_only(media, b"hdlr", media_box), 12)
            if handler[8:12] == b"vide":
                scale = self._time_scale(_only(media, b"mdhd", media_box))
                return self._steps(self._time_to_sample(media, media_box), scale)
        raise ClipTimingError("the clip has no video track")

    def _movie(self, size: int) -> _Box:
        found: list[_Box] = []
        whole = _Box(kind=b"file", at=0, end=size)
        for number, box in enumerate(self._boxes(whole, outermost=True)):
            if (box.kind == b"ftyp") is not (number == 0):
                raise ClipTimingError("not a file of ISO/IEC 14496-12: it must begin with one ftyp")
            if box.kind == b"moov":
                found.append(box)
        return _only(found, b"moov", whole)

    def _boxes(self, parent: _Box, *, outermost: bool = False) -> Iterator[_Box]:
        """The boxes inside a box, which they must fill."""
        at = parent.at
        while at < parent.end:
            self._seen += 1
            if self._seen > MAX_CLIP_BOXES:
                raise ClipTimingError(f"the clip has more than {MAX_CLIP_BOXES} boxes")
            box = self._box(at, parent.end, outermost=outermost)
            yield box
            at = box.end

    def _box(self, at: int, limit: int, *, outermost: bool) -> _Box:
        head = self._bytes(at, min(_HEAD_BYTES, limit - at))
        if len(head) < _HEAD_BYTES:
            raise ClipTimingError(f"a box at byte {at} ends within its header")
        length, kind = struct.unpack(">L4s", head)
        header = _HEAD_BYTES
        if length == _LARGE:
            header = _LARGE_HEAD_BYTES
            if limit - at < header:
                raise ClipTimingError(f"a box at byte {at} ends within its header")
            (length,) = struct.unpack(">Q", self._bytes(at + _HEAD_BYTES, 8))
        elif length == _TO_THE_END and outermost:
            length = limit - at
        if length < header:
            raise ClipTimingError(f"a box at byte {at} states {length} bytes, less than its header")
        if length > limit - at:
            raise ClipTimingError(
                f"a box at byte {at} states {length} bytes where {limit - at} are left"
            )
        return _Box(kind=kind, at=at + header, end=at + length)

    def _bytes(self, at: int, count: int) -> bytes:
        self._stream.seek(at)
        parts = bytearray()
        while len(parts) < count:
            part = self._stream.read(count - len(parts))
            if not part:
                raise ClipTimingError(f"the file ends at byte {at + len(parts)}, too early")
            parts += part
        return bytes(parts)

    def _body(self, box: _Box, needed: int) -> bytes:
        """The first bytes of a box of known layout; `needed` are those that it must have."""
        if box.end - box.at < needed:
            raise ClipTimingError(f"the {_shown(box.kind)} box is shorter than {needed} bytes")
        return self._bytes(box.at, min(box.end - box.at, _MOST_HEADER_BYTES))

    def _header(self, box: _Box) -> int:
        """Version of a box whose fields are longer in version 1."""
        version = self._body(box, 4)[0]
        if version not in (0, 1):
            raise ClipTimingError(f"the {_shown(box.kind)} box is of unknown version {version}")
        return version

    def _time_scale(self, box: _Box) -> int:
        """Ticks a second: behind two times, of 4 bytes in version 0 and 8 in version 1."""
        at = 12 if self._header(box) == 0 else 20
        scale = int.from_bytes(self._body(box, at + 4)[at : at + 4], "big")
        if scale == 0:
            raise ClipTimingError("the video track has a time scale of 0 ticks a second")
        return scale

    def _time_to_sample(self, media: Sequence[_Box], media_box: _Box) -> list[tuple[int, int]]:
        """(number of frames, ticks to the next) for each run of equal steps."""
        information = _only(media, b"minf", media_box)
        table = _only(list(self._boxes(information)), b"stbl", information)
        box = _only(list(self._boxes(table)), b"stts", table)
        version, entries = struct.unpack(">B3xL", self._body(box, 8)[:8])
        if version != 0:
            raise ClipTimingError(f"the stts box is of unknown version {version}")
        if entries > MAX_CLIP_FRAMES:
            raise ClipTimingError(f"the clip has more than {MAX_CLIP_FRAMES} runs of frames")
        if box.end - box.at != 8 + 8 * entries:
            raise ClipTimingError(
                f"the stts box has {box.end - box.at} bytes where {entries} entries take "
                f"{8 + 8 * entries}"
            )
        return list(struct.iter_unpack(">LL", self._bytes(box.at + 8, 8 * entries)))

    def _steps(self, runs: Sequence[tuple[int, int]], scale: int) -> tuple[float, ...]:
        frames = sum(count for count, _ in runs)
        if frames == 0:
            raise ClipTimingError(
                "the sample table of the clip names no frame (a clip in fragments is not read)"
            )
        if frames > MAX_CLIP_FRAMES:
            raise ClipTimingError(f"the clip has {frames} frames, more than {MAX_CLIP_FRAMES}")
        if sum(count * ticks for count, ticks in runs) > MAX_CLIP_SECONDS * scale:
            raise ClipTimingError(f"the clip is longer than {MAX_CLIP_SECONDS} seconds")
        times: list[float] = []
        at = 0
        for count, ticks in runs:
            times += [round((at + ticks * number) / scale, _DIGITS) for number in range(count)]
            at += ticks * count
        return tuple(times)


def _only(boxes: Sequence[_Box], kind: bytes, parent: _Box) -> _Box:
    found = [box for box in boxes if box.kind == kind]
    if len(found) != 1:
        raise ClipTimingError(
            f"{_shown(parent.kind)} has {len(found) or 'no'} {_shown(kind)} "
            f"{'boxes where one is due' if found else 'box'}"
        )
    return found[0]


def _shown(kind: bytes) -> str:
    return "the file" if kind == b"file" else kind.decode("ascii")
