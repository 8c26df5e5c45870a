"""Whether a JPEG decoder smooths over the blocks of a still, so that no copy can be redacted safely.

A progressive JPEG (ITU-T T.81, Annex G) sends each coefficient in several scans.  Where some never
came, decoders fill in the missing ones from blocks up to two away: pixels 32 and more beside a
region then depend on what is inside, which growing the region by 16 pixels does not cover.  A still
with all its scans, and any sequential one, is decoded block by block.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.errors import UsageError

_START: Final = b"\xff\xd8"
_SEQUENTIAL: Final = {0xC0, 0xC1, 0xC9}  # T.81 Table B.1: SOF0, SOF1, SOF9
_PROGRESSIVE: Final = {0xC2, 0xCA}  # SOF2, SOF10
_OTHER_FRAMES: Final = {0xC3, 0xC5, 0xC6, 0xC7, 0xCB, 0xCD, 0xCE, 0xCF}
_SOS, _EOI = 0xDA, 0xD9
_BARE: Final = frozenset({0x01, *range(0xD0, 0xD8)})  # TEM and RST: markers without a length
_COEFFICIENTS: Final = 64
_NEVER_SENT: Final = -1

Accuracy = dict[int, list[int]]  # by component: the lowest bit sent of each coefficient


def require_redactable(data: bytes, *, path: str) -> None:
    """Refuse a JPEG whose blocks are smoothed when it is decoded; other formats pass.

    Raises UsageError where scans are missing, or where the frame is of a kind that is not known.
    """
    if not data.startswith(_START):
        return
    accuracy: Accuracy | None = None
    frames = 0
    for marker, body in _segments(data):
        if marker in _SEQUENTIAL | _PROGRESSIVE | _OTHER_FRAMES:
            frames += 1
            if marker in _OTHER_FRAMES or frames > 1:
                raise _refused(path, "a frame of a kind that is not known to be local")
            if marker in _PROGRESSIVE:
                accuracy = _components(body, path)
        elif marker == _SOS and accuracy is not None:
            _take_scan(accuracy, body, path)
    if not frames:
        raise _refused(path, "no frame")
    if accuracy is not None and any(set(lowest) != {0} for lowest in accuracy.values()):
        raise _refused(path, "scans are missing")


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Markers of the first image, each with what stands in its segment."""
    at = len(_START)
    while (at := data.find(b"\xff", at)) >= 0 and at + 1 < len(data):
        marker = data[at + 1]
        if marker in {0x00, 0xFF} or marker in _BARE:
            at += 1 if marker == 0xFF else 2
            continue
        if marker == _EOI:
            return
        length = int.from_bytes(data[at + 2 : at + 4])
        yield marker, data[at + 4 : at + 2 + length]
        # What follows a scan header is coded data, in which 0xFF is followed by 0 or a bare marker.
        at += 2 + max(length, 2)


def _components(frame: bytes, path: str) -> Accuracy:
    """The components of a frame header (T.81 B.2.2), nothing of them sent yet."""
    count = frame[5] if len(frame) > 5 else 0
    if not count or len(frame) != 6 + 3 * count:
        raise _refused(path, "a frame header of another length")
    return {frame[6 + 3 * one]: [_NEVER_SENT] * _COEFFICIENTS for one in range(count)}


def _take_scan(accuracy: Accuracy, scan: bytes, path: str) -> None:
    """Note what a scan sends (T.81 B.2.3): a band of coefficients down to bit Al."""
    count = scan[0] if scan else 0
    if not count or len(scan) != 4 + 2 * count:
        raise _refused(path, "a scan header of another length")
    first, last, bits = scan[1 + 2 * count :]
    for one in range(count):
        lowest = accuracy.get(scan[1 + 2 * one])
        if lowest is None or not first <= last < _COEFFICIENTS:
            raise _refused(path, "a scan of something that the frame has not")
        lowest[first : last + 1] = [bits & 0x0F] * (last + 1 - first)


def _refused(path: str, why: str) -> UsageError:
    return UsageError(
        "no safe redacted copy can be made of this still: its decoder may carry what is under a "
        "region to pixels far beside it",
        path=path,
        expected="a PNG, or a JPEG decoded block by block",
        observed=why,
        hint="Withhold it, or offer it to be viewed by appointment.",
    )
