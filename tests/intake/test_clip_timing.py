"""Frame times from the sample table (ISO/IEC 14496-12; field layouts from memory, compared with
the clip that the demonstration writes)."""

from __future__ import annotations

import io
import struct
import tracemalloc
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.demo.boxes import Film, film_file
from evidpack.intake.clip_timing import ClipTimingError, frame_times_s
from evidpack.limits import MAX_CLIP_BOXES, MAX_CLIP_FRAMES, MAX_CLIP_SECONDS
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from tests.intake.untidy import HEAD, picture, taken, write

FTYP = struct.pack(">L4s4sL4s", 20, b"ftyp", b"isom", 0, b"isom")
SCALE = 600
STEPS = ((3, 24), (1, 60), (1, 24))  # frames, ticks
TIMES = (0.0, 0.04, 0.08, 0.12, 0.22)


def box(kind: bytes, *parts: bytes) -> bytes:
    body = b"".join(parts)
    return struct.pack(">L4s", 8 + len(body), kind) + body


def large(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">L4sQ", 1, kind, 16 + len(body)) + body


def stts(steps: tuple[tuple[int, int], ...] = STEPS, *, entries: int | None = None) -> bytes:
    count = len(steps) if entries is None else entries
    return box(
        b"stts", struct.pack(">LL", 0, count), *(struct.pack(">LL", *step) for step in steps)
    )


def mdhd(scale: int = SCALE, *, version: int = 0) -> bytes:
    times = bytes(8) if version == 0 else bytes(16)
    return box(b"mdhd", bytes((version, 0, 0, 0)), times, struct.pack(">L", scale), bytes(12))


def hdlr(kind: bytes) -> bytes:
    return box(b"hdlr", bytes(8), kind, bytes(13))


def track(kind: bytes = b"vide", *, head: bytes | None = None, table: bytes | None = None) -> bytes:
    table = stts() if table is None else table
    minf = box(b"minf", box(b"vmhd", bytes(12)), box(b"stbl", box(b"stsd", bytes(8)), table))
    return box(
        b"trak",
        box(b"tkhd", bytes(84)),
        box(b"mdia", mdhd() if head is None else head, hdlr(kind), minf),
    )


MVHD = box(b"mvhd", bytes(100))


def clip(*tracks: bytes) -> bytes:
    return FTYP + box(b"mdat", bytes(16)) + box(b"moov", MVHD, *tracks)


GOOD = clip(track(b"soun", table=stts(((9, 1),))), track())


def read(data: bytes) -> tuple[float, ...]:
    return frame_times_s(io.BytesIO(data), size=len(data))


def refused(data: bytes) -> str:
    with pytest.raises(ClipTimingError) as caught:
        read(data)
    return str(caught.value)


def test_times_are_those_of_the_first_video_track() -> None:
    assert read(GOOD) == TIMES
    assert read(clip(track(), track(table=stts(((2, 1),))))) == TIMES


def test_the_demonstrations_writer_and_this_reader_agree() -> None:
    film = Film(
        frames=[b"a", b"bc", b"d"],
        size=(4, 4),
        scale=600,
        ticks=24,
        created=datetime(2026, 5, 14, tzinfo=UTC),
    )
    assert read(film_file(film)) == (0.0, 0.04, 0.08)


def test_a_64_bit_size_a_size_to_the_end_and_long_times_are_read() -> None:
    body = MVHD + track(head=mdhd(version=1))
    assert read(FTYP + large(b"moov", body)) == TIMES
    assert read(FTYP + struct.pack(">L4s", 0, b"moov") + body) == TIMES


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 900)), min_size=1, max_size=8))
def test_times_equal_a_slow_sum_of_the_steps(steps: list[tuple[int, int]]) -> None:
    data = clip(track(table=stts(tuple(steps))))
    expected, ticks = [], 0
    for count, step in steps:
        for _ in range(count):
            expected.append(ticks / SCALE)
            ticks += step
    if not expected:
        assert "names no frame" in refused(data)
    else:
        assert read(data) == pytest.approx(expected, abs=1e-6)


def test_every_truncation_is_refused_or_cuts_off_nothing_that_is_read() -> None:
    for length in range(len(GOOD)):
        with pytest.raises(ClipTimingError):
            read(GOOD[:length])
    for length in range(len(GOOD)):  # the listing said more than is there
        with pytest.raises(ClipTimingError):
            frame_times_s(io.BytesIO(GOOD[:length]), size=len(GOOD))


def test_every_byte_changed_gives_times_or_our_own_refusal() -> None:
    refusals = 0
    for at in range(len(GOOD)):
        for change in (0x01, 0x80, 0xFF):
            data = bytearray(GOOD)
            data[at] ^= change
            try:
                times = read(bytes(data))
            except ClipTimingError:
                refusals += 1
            else:
                assert 0 < len(times) <= MAX_CLIP_FRAMES
    assert refusals > 200


@given(st.binary(max_size=200))
def test_any_bytes_behind_a_good_beginning_are_refused(data: bytes) -> None:
    with pytest.raises(ClipTimingError):
        read(FTYP + data)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "the file has no moov box"),
        (b"RIFF\x10\0\0\0AVI LIST", "where 16 are left"),
        (GOOD[len(FTYP) :], "must begin with one ftyp"),
        (FTYP + GOOD, "must begin with one ftyp"),
        (GOOD + box(b"moov", MVHD, track()), "the file has 2 moov boxes where one is due"),
        (FTYP, "the file has no moov box"),
        (GOOD + b"\0\0\0", "ends within its header"),
        (GOOD + struct.pack(">L4s", 7, b"free"), "states 7 bytes, less than its header"),
        (GOOD + struct.pack(">L4s", 9, b"free"), "states 9 bytes where 8 are left"),
        (GOOD + struct.pack(">L4sL", 1, b"free", 0), "ends within its header"),
        (GOOD + struct.pack(">L4sQ", 1, b"free", 15), "states 15 bytes, less than its header"),
        (GOOD + struct.pack(">L4sQ", 1, b"free", 2**64 - 1), "states 18446744073709551615 bytes"),
        (FTYP + box(b"moov", track()), "moov has no mvhd box"),
        (clip(MVHD, track()), "moov has 2 mvhd boxes where one is due"),
        (FTYP + box(b"moov", box(b"mvhd", b"\2\0\0\0")), "mvhd box is of unknown version 2"),
        (FTYP + box(b"moov", box(b"mvhd", b"\0")), "mvhd box is shorter than 4 bytes"),
        (clip(), "the clip has no video track"),
        (clip(track(b"soun")), "the clip has no video track"),
        (clip(box(b"trak")), "trak has no mdia box"),
        (clip(box(b"trak", box(b"mdia"))), "mdia has no hdlr box"),
        (clip(box(b"trak", struct.pack(">L4s", 0, b"mdia"))), "states 0 bytes"),
        (clip(track(head=mdhd(0))), "a time scale of 0"),
        (clip(track(head=mdhd(version=3))), "mdhd box is of unknown version 3"),
        (clip(track(head=box(b"mdhd", bytes(14)))), "mdhd box is shorter than 16 bytes"),
        (clip(track(head=b"")), "mdia has no mdhd box"),
        (clip(track(table=b"")), "stbl has no stts box"),
        (clip(track(table=stts() + stts())), "stbl has 2 stts boxes where one is due"),
        (clip(track(table=box(b"stts", bytes(7)))), "stts box is shorter than 8 bytes"),
        (clip(track(table=box(b"stts", b"\1" + bytes(7)))), "stts box is of unknown version 1"),
        (clip(track(table=stts(entries=4))), "32 bytes where 4 entries take 40"),
        (clip(track(table=stts(entries=2))), "32 bytes where 2 entries take 24"),
        (clip(track(table=stts(entries=2**32 - 1))), f"more than {MAX_CLIP_FRAMES} runs"),
        (clip(track(table=stts(()))), "names no frame"),
        (clip(track(table=stts(((0, 24),)))), "names no frame"),
    ],
)
def test_a_broken_clip_is_refused_with_its_reason(data: bytes, reason: str) -> None:
    assert reason in refused(data)


def test_frames_are_read_up_to_the_limit_and_not_beyond() -> None:
    assert len(read(clip(track(table=stts(((MAX_CLIP_FRAMES, 1),)))))) == MAX_CLIP_FRAMES
    beyond = clip(track(table=stts(((MAX_CLIP_FRAMES, 1), (1, 1)))))
    assert f"has {MAX_CLIP_FRAMES + 1} frames, more than" in refused(beyond)


def test_a_clip_may_last_up_to_the_limit_and_not_beyond() -> None:
    longest = MAX_CLIP_SECONDS * SCALE
    assert read(clip(track(table=stts(((1, longest),))))) == (0.0,)
    assert "longer than" in refused(clip(track(table=stts(((1, longest + 1),)))))


def test_boxes_are_read_up_to_the_limit_and_not_beyond() -> None:
    inner = 14  # of the video clip below: ftyp, mdat, moov and the boxes that are walked
    room = MAX_CLIP_BOXES - inner
    small = clip(track())
    assert read(small + box(b"free") * room) == TIMES
    assert f"more than {MAX_CLIP_BOXES} boxes" in refused(small + box(b"free") * (room + 1))


def test_a_promise_of_many_frames_costs_little_memory() -> None:
    data = clip(track(table=stts(((2**32 - 1, 2**32 - 1),) * 4)))
    tracemalloc.start()
    try:
        assert "frames, more than" in refused(data)
        assert tracemalloc.get_traced_memory()[1] < 1024 * 1024
    finally:
        tracemalloc.stop()


class _Broken(io.BytesIO):
    def read(self, size: int | None = -1, /) -> bytes:
        raise OSError(5, "input/output error")


def test_an_error_of_the_disk_is_not_called_a_broken_clip() -> None:
    with pytest.raises(OSError, match="input/output"):
        frame_times_s(_Broken(GOOD), size=len(GOOD))


ITEMS = """[[items]]
glob = "clips/*"
kind = "clip"
[[items]]
glob = "stills/*"
kind = "still"
"""


def _taken(folder: Path, files: dict[str, bytes], kind: RecordKind) -> list[Record]:
    for path, data in files.items():
        write(folder / "export" / path, data)
    return [one for one in taken(folder, HEAD + ITEMS).records if one.kind is kind]


def test_a_clip_record_has_the_times_or_says_why_not(tmp_path: Path) -> None:
    good, bad = _taken(tmp_path, {"clips/a.mp4": GOOD, "clips/b.mp4": GOOD[:-1]}, RecordKind.CLIP)
    assert good.series("frame_times_s") == TIMES
    assert "timing_fault" not in good.values
    assert "frame_times_s" not in bad.values
    assert "are left" in (bad.text("timing_fault") or "")


def test_stills_of_one_size_bear_the_digests_of_their_files(tmp_path: Path) -> None:
    """A file that no other equals in size can be nobody's copy, and is not read twice for that."""
    still = picture()
    # SHA-256 of "abc": FIPS 180-4, example of one block.
    one, two, three, _four, alone = _taken(
        tmp_path,
        {
            "stills/1.jpg": still,
            "stills/2.jpg": still,
            "stills/3.jpg": b"abc",
            "stills/4.jpg": b"abd",
            "stills/5.jpg": b"abcd",
        },
        RecordKind.STILL,
    )
    assert one.text("sha256") == two.text("sha256") != three.text("sha256")
    assert alone.text("sha256") is None
    assert three.text("sha256") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    assert (one.flag("readable"), three.flag("readable")) == (True, False)
