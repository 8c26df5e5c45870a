from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container import output
from evidpack.container.output import Output
from evidpack.errors import SealError

PIECE = limits.COPY_BUFFER_BYTES
SIZES = [1, 1_000, PIECE // 2, PIECE // 2 + 1, PIECE, PIECE + 1, 3 * PIECE + 5]


class Lying(io.BytesIO):
    """Holds another byte at one place than was written there."""

    def __init__(self, place: int) -> None:
        super().__init__()
        self.place = place

    def write(self, data) -> int:
        at = self.tell()
        count = super().write(data)
        if at <= self.place < at + count:
            self.getbuffer()[self.place] ^= 0xFF
        return count


class Forgetting(io.BytesIO):
    """Says that it took everything, and keeps all but the last byte of each write."""

    def write(self, data) -> int:
        return super().write(data[:-1]) + 1


def test_gathers_small_pieces_into_writes_of_bounded_size():
    sizes: list[int] = []

    class Watched(io.BytesIO):
        def write(self, data) -> int:
            sizes.append(len(data))
            return super().write(data)

    stream = Watched()
    out = Output(stream)
    pieces = [bytes([number % 251]) * (number * 7 % 5_000) for number in range(400)]
    pieces.append(b"x" * (5 * PIECE + 1))
    for piece in pieces:
        out.write(piece)
    out.finish()
    assert stream.getvalue() == b"".join(pieces)
    assert max(sizes) <= PIECE
    assert len(sizes) < 30


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("where", [0, 0.5, 1])
def test_a_stream_that_holds_another_byte_is_refused(size: int, where: float):
    place = 10 + int((size - 1) * where)
    out = Output(Lying(place), read_back=True)
    out.write(b"first ten.")

    def write_rest() -> None:
        out.write(b"\x11" * size)
        out.finish()

    with pytest.raises(SealError, match="does not hold what was just written") as caught:
        write_rest()
    assert caught.value.offset == place
    assert str(caught.value.expected).startswith("bytes 11")
    assert str(caught.value.observed).startswith("bytes ee")
    assert "keep the export as it is" in str(caught.value.hint)


def test_a_stream_that_keeps_less_is_refused():
    out = Output(Forgetting(), read_back=True)
    with pytest.raises(SealError, match="does not hold what was just written") as caught:
        out.write(b"\x22" * PIECE)
    assert caught.value.offset == PIECE - 1
    assert caught.value.observed == "the end of the file"


def test_a_patch_is_compared_too():
    class Deaf(io.BytesIO):
        """Takes no second write to a place."""

        def write(self, data) -> int:
            if self.tell() < len(self.getvalue()):
                self.seek(len(data), io.SEEK_CUR)
                return len(data)
            return super().write(data)

    out = Output(Deaf(), read_back=True)
    out.write(b"0000" + b"data")
    with pytest.raises(SealError, match="does not hold what was just written") as caught:
        out.patch(b"1234", back=8)
    assert caught.value.offset == 0


def test_nothing_is_read_back_unless_asked_for():
    stream = Lying(3)
    out = Output(stream)
    out.write(b"0123456")
    out.finish()
    assert stream.getvalue() != b"0123456"


def test_an_error_of_the_disk_while_reading_back_is_told():
    class Unreadable(io.BytesIO):
        def read(self, size=-1) -> bytes:
            raise OSError(5, "Input/output error")

    out = Output(Unreadable(), read_back=True)
    out.write(b"data")
    with pytest.raises(SealError, match="Input/output error"):
        out.finish()


@given(st.lists(st.integers(0, 2_000) | st.sampled_from([PIECE - 1, PIECE, PIECE + 3]), max_size=9))
def test_reading_back_changes_nothing_that_is_written(sizes: list[int]):
    pieces = [bytes([number + 1]) * size for number, size in enumerate(sizes)]
    streams = (io.BytesIO(), io.BytesIO())
    for stream, read_back in zip(streams, (False, True), strict=True):
        out = Output(stream, read_back=read_back)
        for piece in pieces:
            room = out.room(len(piece)) if len(piece) < 1_000 else None
            if room is None:
                out.write(piece)
            else:
                room[:] = piece
                out.take(len(piece))
        if sum(sizes) > 4:
            out.patch(b"back", back=sum(sizes) - 1)
        out.finish()
    assert streams[0].getvalue() == streams[1].getvalue()
    assert len(streams[0].getvalue()) == sum(sizes)


def test_reads_a_plain_file_back_by_its_descriptor(tmp_path: Path):
    path = tmp_path / "a"
    with path.open("w+b", buffering=0) as stream:
        out = Output(stream, read_back=True)
        for number in range(20):
            out.write(bytes([number]) * 70_000)
        out.finish()
        assert stream.tell() == 20 * 70_000
    assert path.stat().st_size == 20 * 70_000
    assert output._WRITE_BYTES == PIECE
