from __future__ import annotations

import hashlib
import io
import os
import shutil
import subprocess
import threading
import zipfile
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container.bag import hash_members
from evidpack.container.zip_writer import ZipWriter
from evidpack.errors import ContainerError, ExportChangedError, IntakeError, SealError
from tests.container.archives import GOOD, TOP, opened, written

SIZES = [
    0,
    1,
    limits.COPY_BUFFER_BYTES - 1,
    limits.COPY_BUFFER_BYTES,
    limits.COPY_BUFFER_BYTES + 1,
    2 * limits.COPY_BUFFER_BYTES,
    3 * limits.MIB + 17,
]


def pattern(size: int) -> bytes:
    """Bytes in which no two stretches are alike."""
    return hashlib.shake_128(size.to_bytes(8, "big")).digest(size)


def test_tells_digest_and_checksum_of_what_it_wrote():
    writer = ZipWriter(io.BytesIO(), TOP)
    result = writer.add_bytes("a.txt", b"abc")
    # SHA-256 of "abc": FIPS 180-4 example (NIST, SHA-256 example values).
    assert result.sha256.hex() == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    # CRC-32 of "123456789" is cbf43926 (the check value in the CRC catalogue, CRC-32/ISO-HDLC).
    assert writer.add_bytes("b", b"123456789").crc32 == 0xCBF43926
    assert (result.name, result.size) == ("a.txt", 3)


@pytest.mark.parametrize("size", SIZES)
def test_streams_members_of_every_size_class(size: int):
    data = pattern(size)
    stream = io.BytesIO()
    told: list[int] = []
    seen = hashlib.sha256()
    writer = ZipWriter(stream, TOP)
    writer.add_bytes("before", b"1")
    result = writer.add_stream("a.bin", size, io.BytesIO(data), told.append, seen.update)
    writer.add_bytes("after", b"2")
    total = writer.finish()
    assert total == len(stream.getvalue())
    assert result.sha256 == hashlib.sha256(data).digest() == seen.digest()
    assert result.crc32 == zlib.crc32(data)
    assert sum(told) == size
    with zipfile.ZipFile(stream) as other:
        assert other.testzip() is None
        assert other.read(f"{TOP}/a.bin") == data
    assert opened(stream.getvalue()).read("a.bin", limit=size) == data


def test_streaming_and_memory_give_the_same_archive():
    stream = io.BytesIO()
    writer = ZipWriter(stream, TOP)
    for name, data in GOOD:
        writer.add_stream(name, len(data), io.BytesIO(data))
    writer.finish()
    assert stream.getvalue() == written()


def test_many_small_members_fill_the_gathering_buffer_many_times():
    members = {f"{number}.bin": pattern(number * 1_000) for number in range(100)}
    stream = io.BytesIO()
    writer = ZipWriter(stream, TOP)
    for name, data in members.items():
        writer.add_stream(name, len(data), io.BytesIO(data))
    writer.finish()
    archive = opened(stream.getvalue())
    assert {name: archive.read(name, limit=10**6) for name in members} == members


def test_unzip_reads_it_the_same_way(tmp_path: Path):
    target = tmp_path / "a.zip"
    members = [(f"data/export/{size}.bin", pattern(size)) for size in SIZES[:5]]
    target.write_bytes(written((*members, ("data/ü ß/日本.txt", b"names"))))
    tested = subprocess.run(["unzip", "-t", target], capture_output=True, text=True, check=False)
    assert tested.returncode == 0, tested.stdout
    assert "No errors detected" in tested.stdout
    subprocess.run(["unzip", "-q", target, "-d", tmp_path], check=True)
    for name, data in (*members, ("data/ü ß/日本.txt", b"names")):
        assert (tmp_path / TOP / name).read_bytes() == data
        assert (tmp_path / TOP / name).stat().st_mode & 0o177 == 0o044 or os.umask(0o022)


@pytest.mark.skipif(shutil.which("7z") is None, reason="7z is not installed")
def test_7z_reads_it_the_same_way(tmp_path: Path):
    target = tmp_path / "a.zip"
    target.write_bytes(written())
    listed = subprocess.run(
        ["7z", "l", "-ba", "-slt", target], capture_output=True, text=True, check=True
    ).stdout
    assert [line[7:] for line in listed.splitlines() if line.startswith("Path = ")] == [
        f"{TOP}/{name}" for name, _ in GOOD
    ]
    subprocess.run(["7z", "t", target], capture_output=True, check=True)


NAMES = st.text(alphabet="abcdé日 .-_", min_size=1, max_size=6).filter(
    lambda name: name == name.strip(" .") and name
)


@given(st.dictionaries(NAMES, st.binary(max_size=300), min_size=1, max_size=8))
def test_whatever_is_written_is_read_back(members: dict[str, bytes]):
    data = written(tuple(members.items()))
    archive = opened(data)
    assert {m.name: archive.read(m.name, limit=300) for m in archive.members} == members
    assert hash_members(archive) == {
        name: hashlib.sha256(content).digest() for name, content in members.items()
    }
    with zipfile.ZipFile(io.BytesIO(data)) as other:
        assert {info.filename: other.read(info) for info in other.infolist()} == {
            f"{TOP}/{name}": content for name, content in members.items()
        }


@pytest.mark.parametrize("size", SIZES)
def test_tells_where_each_member_stands(size: int):
    stream = io.BytesIO()
    with ZipWriter(stream, TOP, read_back=True) as writer:
        made = [
            writer.add_bytes("before", b"1"),
            writer.add_stream("a.bin", size, io.BytesIO(pattern(size))),
            writer.add_stream("b.bin", size, io.BytesIO(pattern(size))),
        ]
        writer.finish()
    assert [(one.name, one.offset, one.size, one.crc32) for one in made] == [
        (member.name, member.offset, member.size, member.crc32)
        for member in opened(stream.getvalue()).members
    ]
    assert made[1].sha256 == made[2].sha256 == hashlib.sha256(pattern(size)).digest()


def test_reading_back_gives_the_same_archive():
    stream = io.BytesIO()
    with ZipWriter(stream, TOP, read_back=True) as writer:
        for name, data in GOOD:
            writer.add_stream(name, len(data), io.BytesIO(data))
        writer.finish()
    assert stream.getvalue() == written()


# What is refused


@pytest.mark.parametrize("name", ["", "/a", "../a", "a\\b", "nul", "a."])
def test_refuses_a_name(name: str):
    writer = ZipWriter(io.BytesIO(), TOP)
    with pytest.raises(ContainerError, match="is not allowed"):
        writer.add_bytes(name, b"")


def test_refuses_a_twin():
    writer = ZipWriter(io.BytesIO(), TOP)
    writer.add_bytes("a", b"")
    with pytest.raises(ContainerError, match="taken for one another"):
        writer.add_stream("A", 0, io.BytesIO())


def test_a_refused_name_leaves_the_archive_whole():
    stream = io.BytesIO()
    writer = ZipWriter(stream, TOP)
    for name, data in GOOD:
        writer.add_bytes(name, data)
        with pytest.raises(ContainerError):
            writer.add_bytes(name, data)
    writer.finish()
    assert stream.getvalue() == written()


def test_refuses_a_top_that_is_no_reference():
    with pytest.raises(ContainerError, match="no reference"):
        ZipWriter(io.BytesIO(), "../x")


def test_refuses_an_archive_without_members():
    with pytest.raises(ContainerError, match="without members"):
        ZipWriter(io.BytesIO(), TOP).finish()


@pytest.mark.parametrize("size", SIZES[1:])
def test_refuses_a_file_that_became_shorter(size: int):
    writer = ZipWriter(io.BytesIO(), TOP)
    with pytest.raises(ExportChangedError, match="became shorter") as caught:
        writer.add_stream("a.bin", size, io.BytesIO(pattern(size)[:-1]))
    assert caught.value.path == "a.bin"
    assert caught.value.expected == f"{size} bytes"
    with pytest.raises(ContainerError, match="broken off"):
        writer.finish()
    with pytest.raises(ContainerError, match="broken off"):
        writer.add_bytes("b", b"")


@pytest.mark.parametrize("size", SIZES)
def test_refuses_a_file_that_became_longer(size: int):
    writer = ZipWriter(io.BytesIO(), TOP)
    with pytest.raises(ExportChangedError, match="became longer") as caught:
        writer.add_stream("a.bin", size, io.BytesIO(pattern(size) + b"!"))
    assert caught.value.offset == size


class Failing(io.RawIOBase):
    """Reads or takes some bytes and then fails as a card or a disk does."""

    def __init__(self, error: BaseException, good: int) -> None:
        self.error = error
        self.left = good

    def readinto(self, buffer) -> int:
        count = min(self.left, len(buffer))
        if not count:
            raise self.error
        self.left -= count
        return count

    def write(self, data) -> int:
        count = min(self.left, len(data))
        if not count:
            raise self.error
        self.left -= count
        return count

    def tell(self) -> int:
        return 0

    def seek(self, offset: int, whence: int = 0) -> int:
        return 0


def stream_one(target, data: bytes) -> None:
    """Write an archive with one member to a target that may fail."""
    writer = ZipWriter(target, TOP)
    writer.add_stream("a.bin", len(data), io.BytesIO(data))
    writer.finish()


@pytest.mark.parametrize("size", SIZES[1:])
def test_tells_an_unreadable_sector_from_a_full_disk(size: int):
    unreadable = OSError(5, "Input/output error")
    writer = ZipWriter(io.BytesIO(), TOP)
    with pytest.raises(IntakeError, match="cannot be read: Input/output error") as caught:
        writer.add_stream("a.bin", size, Failing(unreadable, size - 1))
    assert (caught.value.path, caught.value.offset) == ("a.bin", size - 1)
    full = OSError(28, "No space left on device")
    with pytest.raises(SealError, match="cannot be written: No space left on device"):
        stream_one(Failing(full, size // 2), pattern(size))


@pytest.mark.parametrize("size", SIZES[1:])
def test_refuses_a_disk_that_holds_something_else(size: int):
    class Lying(io.BytesIO):
        """Flips a bit of what is written last before the central directory."""

        def write(self, data) -> int:
            at = self.tell()
            count = super().write(data)
            if at <= size < at + count:
                self.getbuffer()[size] ^= 1
            return count

    def write() -> None:
        with ZipWriter(Lying(), TOP, read_back=True) as writer:
            writer.add_stream("a.bin", size, io.BytesIO(pattern(size)))
            writer.finish()

    with pytest.raises(SealError, match="does not hold what was just written") as caught:
        write()
    assert caught.value.offset == size


def test_leaving_the_writer_ends_the_digest_thread():
    before = threading.active_count()
    with ZipWriter(io.BytesIO(), TOP) as writer:
        writer.add_stream("a.bin", 400_000, io.BytesIO(pattern(400_000)))
        assert threading.active_count() == before + 1
    assert threading.active_count() == before


def test_an_interrupt_ends_the_digest_thread():
    before = threading.active_count()
    writer = ZipWriter(io.BytesIO(), TOP)
    with pytest.raises(KeyboardInterrupt):
        writer.add_stream("a.bin", 9 * limits.MIB, Failing(KeyboardInterrupt(), 5 * limits.MIB))
    assert threading.active_count() == before


class Sluggish(io.BytesIO):
    """Takes and gives at most 1,000 bytes at a time."""

    def write(self, data) -> int:
        return super().write(memoryview(data)[:1_000])

    def readinto(self, buffer) -> int:
        return super().readinto(memoryview(buffer)[:1_000])


def test_streams_that_take_and_give_in_parts():
    data = pattern(300_000)
    stream = Sluggish()
    writer = ZipWriter(stream, TOP)
    writer.add_stream("a.bin", len(data), Sluggish(data))
    writer.finish()
    assert opened(stream.getvalue()).read("a.bin", limit=300_000) == data


class Broken(io.BytesIO):
    """Fails in one place."""

    def __init__(self, where: str) -> None:
        super().__init__()
        self.where = where

    def seek(self, offset: int, whence: int = 0) -> int:
        if self.where == "seek":
            raise OSError(29, "Illegal seek")
        return super().seek(offset, whence)

    def flush(self) -> None:
        if self.where == "flush":
            raise OSError(28, "No space left on device")


@pytest.mark.parametrize("where", ["seek", "flush"])
def test_a_target_that_cannot_seek_or_flush(where: str):
    with pytest.raises(SealError, match="cannot be written"):
        stream_one(Broken(where), bytes(300_000))


# Limits, at the limit and one past it


def test_members_at_the_limit_and_one_past_it(monkeypatch):
    monkeypatch.setattr(limits, "MAX_MEMBERS", 2)
    writer = ZipWriter(io.BytesIO(), TOP)
    writer.add_bytes("a", b"")
    writer.add_bytes("b", b"")
    with pytest.raises(ContainerError, match="limit reached: number of members") as caught:
        writer.add_bytes("c", b"")
    assert (caught.value.expected, caught.value.observed) == ("at most 2", "3")


def test_size_at_the_limit_and_one_past_it(monkeypatch):
    size = len(written())
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", size)
    written()
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", size - 1)
    with pytest.raises(ContainerError, match="limit reached: size of the archive"):
        written()
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", 10)
    with pytest.raises(ContainerError, match="limit reached: size of the archive"):
        ZipWriter(io.BytesIO(), TOP).add_bytes("a", bytes(11))


def test_directory_at_the_limit_and_one_past_it(monkeypatch):
    size = 46 + len(f"{TOP}/a")
    monkeypatch.setattr(limits, "MAX_DIRECTORY_BYTES", size)
    assert len(opened(written([("a", b"")])).members) == 1
    with pytest.raises(ContainerError, match="limit reached: size of the central directory"):
        written([("ab", b"")])
    monkeypatch.setattr(limits, "MAX_DIRECTORY_BYTES", size - 1)
    with pytest.raises(ContainerError, match="limit reached: size of the central directory"):
        written([("a", b"")])
