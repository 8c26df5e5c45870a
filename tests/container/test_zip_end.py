from __future__ import annotations

import io
import struct
import zipfile

import pytest

from evidpack import limits
from evidpack.container.zip_reader import read_archive
from evidpack.errors import ContainerError
from tests.container.archives import TOP, Part, changed, forged, opened, parts, refused, written

# End records


def test_refuses_zip64_end_records_without_need():
    for records in ({"end64": {}, "locator": {}}, {"locator": {}}, {"end64": {}}):
        data = forged(parts("a"), **records)
        assert "does not reach exactly to the end records" in str(refused(data))


def test_refuses_zip64_end_records_announced_without_need():
    data = forged(parts("a"), end={"count": 0xFFFF, "count_here": 0xFFFF}, end64={}, locator={})
    with zipfile.ZipFile(io.BytesIO(data)) as other:
        assert other.namelist() == [f"{TOP}/a"]
    error = refused(data)
    assert "in ZIP64 form without need" in str(error)


def test_refuses_an_announced_zip64_record_where_there_is_no_room():
    data = forged([], end={"count": 0xFFFF, "count_here": 0xFFFF})
    assert "where there is no room" in str(refused(data))


def test_refuses_an_announced_zip64_record_that_is_not_there():
    data = forged(parts(*"abcd"), end={"size": 0xFFFFFFFF})
    assert "does not reach exactly to the end records" in str(refused(data))


def test_refuses_a_directory_hidden_behind_a_zip64_record():
    # Old programs use the end record, new ones the ZIP64 record: two directories, two readings.
    data = forged(parts("a"), end={"position": 0xFFFFFFFF}, end64={"position": 0}, locator={})
    assert "does not reach exactly to the end records" in str(refused(data))


@pytest.mark.parametrize(
    ("end", "message"),
    [
        ({"count": 2}, "number of members on this disk is not"),
        ({"count": 2, "count_here": 2}, "cannot hold that number of members"),
        ({"disk": 1}, "disk number"),
        ({"start_disk": 1}, "disk of the central directory"),
        ({"position": 0}, "does not reach exactly"),
        ({"size": 1}, "does not reach exactly"),
    ],
)
def test_refuses_end_records_that_lie(end, message):
    if "count" in end and "count_here" not in end:
        message = "number of members"
    assert message in str(refused(forged(parts("a"), end=end)))


def test_refuses_a_locator_in_disguise():
    # A 16-byte name as the last one, at a position whose bytes are the locator's signature: to a
    # program that looks for a locator before any end record, the name is one.
    position = int.from_bytes(b"PK\x06\x07", "little")
    stream = io.BytesIO()
    sparse = Sparse(stream, hole_at=100, hole=position)
    name = b"T/" + b"n" * 14
    filler = Part(name="T/filler")
    first = position - 30 - len(filler.raw)
    filler.local = filler.central = {"size": first, "stored": first, "crc": 0}
    head = forged([filler])
    local = head[: head.index(b"PK\x01\x02")]
    tail = forged([Part(name=name)])
    directory = head[len(local) : head.rindex(b"PK\x05\x06")]
    own = tail[: tail.index(b"PK\x01\x02")]
    central = changed(tail[len(own) : tail.rindex(b"PK\x05\x06")], 42, 4, position)
    size = len(directory) + len(central)
    end = struct.pack("<4sHHHHIIH", b"PK\x05\x06", 0, 0, 2, 2, size, position + len(own), 0)
    sparse.parts = [(0, local), (position, own + directory + central + end)]
    with pytest.raises(ContainerError, match="looks like a ZIP64 locator"):
        read_archive(sparse, path="test.zip")


class Sparse(io.RawIOBase):
    """A large file of zeros with a few parts set, in little memory."""

    def __init__(self, stream, *, hole_at: int, hole: int) -> None:
        self.parts: list[tuple[int, bytes]] = []
        self.at = 0

    def seekable(self) -> bool:
        return True

    def readable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = 0) -> int:
        end = max(at + len(data) for at, data in self.parts)
        self.at = offset + {0: 0, 1: self.at, 2: end}[whence]
        return self.at

    def read(self, count: int = -1) -> bytes:
        found = bytearray(count)
        for at, data in self.parts:
            for number in range(max(at, self.at), min(at + len(data), self.at + count)):
                found[number - self.at] = data[number - at]
        self.at += count
        return bytes(found)


# Limits, at the limit and one past it


def test_members_at_the_limit_and_one_past_it(monkeypatch):
    monkeypatch.setattr(limits, "MAX_MEMBERS", 3)
    assert len(opened(forged(parts("a", "b", "c"))).members) == 3
    error = refused(forged(parts("a", "b", "c", "d")))
    assert "number of members is out of bounds" in str(error)
    assert (error.expected, error.observed) == ("1 to 3", "4")


def test_size_at_the_limit_and_one_past_it(monkeypatch):
    data = written()
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", len(data))
    opened(data)
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", len(data) - 1)
    error = refused(data)
    assert "the archive is too large" in str(error)


def test_directory_at_the_limit_and_one_past_it(monkeypatch):
    data = written()
    size = int.from_bytes(data[-10:-6], "little")
    monkeypatch.setattr(limits, "MAX_DIRECTORY_BYTES", size)
    opened(data)
    monkeypatch.setattr(limits, "MAX_DIRECTORY_BYTES", size - 1)
    error = refused(data)
    assert "the central directory is too large" in str(error)
    assert error.observed == f"{size} bytes"


def test_numbers_beyond_all_files_are_refused_before_anything_is_made_of_them():
    full = {"count": 0xFFFF, "count_here": 0xFFFF, "size": 0xFFFFFFFF, "position": 0xFFFFFFFF}
    huge = 2**64 - 1
    beyond = {"count": huge, "count_here": huge, "size": huge, "position": huge}
    error = refused(forged(parts("a"), end=full, end64=beyond, locator={}))
    assert "does not reach exactly to the end records" in str(error)
    assert error.observed == f"{huge} bytes from byte {huge}"
