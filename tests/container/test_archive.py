from __future__ import annotations

import io
import os
import threading
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.container.archive import Archive, ByteSource, Member, MemberView
from evidpack.container.zip_reader import read_archive
from evidpack.errors import ContainerError
from tests.container.archives import GOOD, opened, written


def test_finds_a_member_by_name():
    archive = opened(written())
    assert archive.member("bagit.txt").size == 0
    assert "bagit.txt" in archive
    assert "bagit" not in archive


def test_names_a_member_that_is_missing():
    with pytest.raises(ContainerError, match=r"seal/statement\.json is missing") as caught:
        opened(written()).read("seal/statement.json", limit=10)
    assert caught.value.path == "test.zip"
    assert "TRU-2026-05-14-A/seal/statement.json" in caught.value.expected


def test_reads_up_to_the_limit_and_no_more():
    archive = opened(written())
    assert archive.read("data/export/a.txt", limit=5) == b"alpha"
    with pytest.raises(ContainerError, match="is too large") as caught:
        archive.read("data/export/a.txt", limit=4)
    assert (caught.value.expected, caught.value.observed) == ("at most 4 bytes", "5 bytes")


def test_refuses_bytes_with_another_checksum():
    data = written().replace(b"alpha", b"alphA")
    with pytest.raises(ContainerError, match="do not have the stated CRC-32"):
        opened(data).read("data/export/a.txt", limit=5)


@pytest.fixture(params=["file", "buffered file", "memory", "other"])
def stream(request, tmp_path: Path):
    """The same archive behind each kind of stream."""
    path = tmp_path / "a.zip"
    path.write_bytes(written())
    if request.param == "memory":
        yield io.BytesIO(written())
    elif request.param == "other":
        yield io.BufferedReader(Plain(written()))
    else:
        with path.open("rb", buffering=0 if request.param == "file" else -1) as file:
            yield file


class Plain(io.RawIOBase):
    """A stream with a file number that is not its own, as a decompressing stream has."""

    def __init__(self, data: bytes) -> None:
        self.inner = io.BytesIO(data)

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = 0) -> int:
        return self.inner.seek(offset, whence)

    def readinto(self, buffer) -> int:
        return self.inner.readinto(buffer)

    def fileno(self) -> int:
        return 0


def test_reads_the_same_from_every_kind_of_stream(stream):
    archive = read_archive(stream, path="a.zip")
    assert [archive.read(name, limit=10) for name, _ in GOOD] == [data for _, data in GOOD]


def test_sees_what_a_buffered_stream_has_not_yet_written(tmp_path: Path):
    with (tmp_path / "a.zip").open("w+b") as file:
        file.write(written())
        assert len(read_archive(file, path="a.zip").members) == len(GOOD)


def test_threads_do_not_disturb_one_another():
    archive = opened(written([(f"{n}", bytes([n]) * 1_000) for n in range(50)]))
    wrong: list[int] = []

    def read() -> None:
        for number in [*range(50)] * 20:
            data = archive.read(str(number), limit=1_000)
            wrong.extend([number] * (data != bytes([number]) * 1_000))

    threads = [threading.Thread(target=read) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


@given(
    st.binary(max_size=50),
    st.lists(st.tuples(st.integers(-60, 60), st.integers(0, 2), st.integers(0, 60))),
)
def test_a_view_acts_as_a_file_of_the_members_bytes(data: bytes, steps):
    archive = opened(written([("before", b"xxx"), ("a", data), ("after", b"yyy")]))
    view = archive.open(archive.member("a"))
    reference = io.BytesIO(data)
    assert view.seekable()
    assert view.readable()
    assert not view.writable()
    for offset, whence, count in steps:
        base = (0, reference.tell(), len(data))[whence]
        if base + offset < 0:
            with pytest.raises(ValueError, match="negative"):
                view.seek(offset, whence)
            continue
        assert view.seek(offset, whence) == reference.seek(offset, whence)
        assert view.tell() == reference.tell()
        assert view.read(count) == reference.read(count)
    view.seek(0)
    assert view.read() == data


def test_a_view_has_the_members_name_and_no_file_number():
    archive = opened(written())
    view = archive.open(archive.member("bagit.txt"))
    assert isinstance(view, MemberView)
    assert view.name == "bagit.txt"
    with pytest.raises(OSError, match="fileno"):
        view.fileno()


def test_an_archive_inside_an_archive_is_read_through_a_view():
    outer = opened(written([("pack.zip", written())]))
    inner = read_archive(outer.open(outer.member("pack.zip")), path="pack.zip")
    assert inner.read("data/export/a.txt", limit=5) == b"alpha"


def test_says_so_when_the_file_shrinks_while_it_is_read(tmp_path: Path):
    path = tmp_path / "a.zip"
    path.write_bytes(written())
    with path.open("rb") as file:
        archive = read_archive(file, path="a.zip")
        os.truncate(path, 60)
        with pytest.raises(ContainerError, match="ends too early") as caught:
            archive.read("data/export/b/ä.bin", limit=10)
    assert caught.value.offset is not None


def test_says_so_when_the_medium_fails():
    class Failing(io.BytesIO):
        def read(self, count=-1):
            raise OSError(5, "Input/output error")

    with pytest.raises(ContainerError, match="cannot be read: Input/output error") as caught:
        read_archive(Failing(written()), path="a.zip")
    assert "check the medium" in caught.value.hint


def test_members_and_archives_are_what_they_are_made_of():
    source = ByteSource(io.BytesIO(b"abc"), path="x")
    member = Member(name="a", offset=1, size=2, crc32=0)
    archive = Archive(source, top="T", members=[member])
    assert archive.open(member).read() == b"bc"
    assert (archive.size, archive.path) == (3, "x")
