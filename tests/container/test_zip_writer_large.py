"""ZIP64 for real: more members than 16 bits count, more bytes than 32 bits count."""

from __future__ import annotations

import io
import os
import subprocess
import zipfile
from pathlib import Path

import pytest

from evidpack import limits
from evidpack.container.zip_reader import read_archive
from evidpack.container.zip_writer import ZipWriter
from tests.container.archives import TOP


@pytest.mark.parametrize("count", [65_534, 65_535, 65_536])
def test_many_members(count: int):
    # APPNOTE 4.4.1.4: the ZIP64 record is needed from 65,535 members on.
    stream = io.BytesIO()
    writer = ZipWriter(stream, "T")
    for number in range(count):
        writer.add_bytes(f"{number:x}", b"")
    writer.finish()
    assert (b"PK\x06\x06" in stream.getvalue()[-98:]) == (count >= 65_535)
    assert len(read_archive(stream, path="test.zip").members) == count
    with zipfile.ZipFile(stream) as other:
        assert len(other.infolist()) == count


class Holes(io.RawIOBase):
    """Writes to a file, leaving holes for stretches of zeros, so that 4 GiB take no room."""

    def __init__(self, path: Path) -> None:
        self.file = path.open("w+b", buffering=0)
        self.zeros = bytes(limits.COPY_BUFFER_BYTES)

    def write(self, data) -> int:
        if len(data) == len(self.zeros) and data == self.zeros:
            self.file.seek(len(data), os.SEEK_CUR)
        else:
            self.file.write(data)
        return len(data)

    def seek(self, offset: int, whence: int = 0) -> int:
        return self.file.seek(offset, whence)

    def tell(self) -> int:
        return self.file.tell()


class Zeros(io.RawIOBase):
    """So many zeros to read."""

    def __init__(self, size: int) -> None:
        self.left = size

    def readinto(self, buffer) -> int:
        # The writer's buffers hold zeros from the start, and nothing else goes through them here.
        count = min(len(buffer), self.left)
        self.left -= count
        return count


def test_a_member_of_4_gib_and_one_behind_it(tmp_path: Path):
    # The largest file that FAT32 holds, and the first that needs ZIP64 (APPNOTE 4.4.9).  Info-ZIP's
    # unzip 6.0 misreads what follows a member of just this size in another form of ZIP64.
    size = 2**32 - 1
    path = tmp_path / "big.zip"
    holes = Holes(path)
    writer = ZipWriter(holes, TOP)
    writer.add_stream("zeros.bin", size, Zeros(size))
    writer.add_bytes("behind.txt", b"behind 4 GiB")
    total = writer.finish()
    holes.file.close()
    assert path.stat().st_size == total
    with path.open("rb") as file:
        archive = read_archive(file, path="big.zip")
        first, second = archive.members
        assert first.size == size
        assert first.offset == 30 + len(TOP) + 10 + 20
        assert second.offset == first.offset + size + 30 + len(TOP) + 11 + 20
        assert archive.read("behind.txt", limit=20) == b"behind 4 GiB"
    with zipfile.ZipFile(path) as other:
        infos = other.infolist()
        assert [info.file_size for info in infos] == [size, 12]
        assert [info.extract_version for info in infos] == [45, 45]
        assert other.read(infos[1]) == b"behind 4 GiB"
    shown = subprocess.run(
        ["unzip", "-p", path, f"{TOP}/behind.txt"], capture_output=True, check=True
    )
    assert shown.stdout == b"behind 4 GiB"
