from __future__ import annotations

import hashlib
import os
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container import hashing
from evidpack.container.archive import Archive
from evidpack.container.bag import BagFault, hash_members
from evidpack.container.zip_reader import read_archive
from evidpack.container.zip_writer import Written
from evidpack.errors import ContainerError
from tests.container.archives import opened, written

BATCH = hashing._BATCH_BYTES


def pattern(size: int) -> bytes:
    return hashlib.shake_128(size.to_bytes(8, "big")).digest(size)


SETS = {
    "small": [0, 1, 10, 1_000, 0],
    "one large": [5 * limits.MIB + 3],
    "around the batch": [BATCH - 1, BATCH, BATCH + 1, 5, BATCH + 1, 0],
    "most in one": [10, 9 * limits.MIB, 20, 300_000],
    "several large": [limits.MIB, 2 * limits.MIB, limits.MIB, 7],
}


@pytest.mark.parametrize("workers", [1, 2, 3])
@pytest.mark.parametrize("sizes", SETS.values(), ids=SETS)
def test_gives_the_digest_of_every_member_in_order(sizes: list[int], workers: int):
    members = [(f"data/{number}", pattern(size)) for number, size in enumerate(sizes)]
    told: list[int] = []
    digests = hash_members(opened(written(members)), on_bytes=told.append, workers=workers)
    # The slow reference: hashlib over each member's bytes.
    assert list(digests.items()) == [
        (name, hashlib.sha256(data).digest()) for name, data in members
    ]
    assert sum(told) == sum(sizes)


@pytest.mark.parametrize("size", [100, BATCH + 1])
def test_what_was_compared_as_it_was_written_is_not_read_again(size: int):
    archive, known = compared(size)
    told: list[int] = []
    digests = hash_members(archive, on_bytes=told.append, compared=known)
    # The digests are those that the writer told, here invented, and one that was read.
    assert digests == {"a": b"A" * 32, "b": b"B" * 32, "c": hashlib.sha256(b"c" * size).digest()}
    assert sum(told) == size


@pytest.mark.parametrize("other", ["offset", "size", "crc32"])
def test_a_member_that_does_not_stand_as_it_was_written_is_read(other: str):
    archive, known = compared(100)
    setattr(known["b"], other, getattr(known["b"], other) + 1)
    assert hash_members(archive, compared=known)["b"] == hashlib.sha256(b"b" * 100).digest()


def compared(size: int) -> tuple[Archive, dict[str, Written]]:
    """An archive of a, b and c, and for a and b what a writer would have told, but digests that
    tell whether they were used."""
    archive = opened(written([(name, name.encode() * size) for name in "abc"]))
    known = {
        member.name: Written(
            name=member.name,
            size=member.size,
            crc32=member.crc32,
            offset=member.offset,
            digest=member.name.upper().encode() * 32,
        )
        for member in archive.members[:2]
    }
    return archive, known


@settings(max_examples=30)
@given(st.lists(st.integers(0, 2_000), min_size=1, max_size=40), st.integers(1, 4))
def test_batches_lose_nothing(sizes: list[int], workers: int):
    members = [(str(number), pattern(size)) for number, size in enumerate(sizes)]
    digests = hash_members(opened(written(members)), workers=workers)
    assert digests == {name: hashlib.sha256(data).digest() for name, data in members}


@pytest.mark.parametrize("size", [100, BATCH + 1, 5 * limits.MIB])
def test_collects_every_checksum_that_differs(size: int):
    members = [("a", b"A" * size), ("b", b"B" * size), ("c", b"C" * size)]
    data = bytearray(written(members))
    data[data.index(b"AAAA") + 4] ^= 1
    data[data.index(b"CCCC") + size - 5] ^= 1
    archive = opened(bytes(data))
    faults: list[BagFault] = []
    digests = hash_members(archive, faults=faults)
    assert [fault.item for fault in faults] == ["a", "c"]
    assert faults[0].message == "the bytes do not have the stated CRC-32"
    assert faults[0].expected == f"{archive.member('a').crc32:08x}"
    assert digests["b"] == hashlib.sha256(b"B" * size).digest()
    with pytest.raises(ContainerError, match="a: the bytes do not have the stated CRC-32"):
        hash_members(archive)


@pytest.mark.parametrize("size", [100_000, 4 * limits.MIB])
def test_says_so_when_the_file_shrinks_while_it_is_hashed(tmp_path: Path, size: int):
    path = tmp_path / "a.zip"
    path.write_bytes(written([("a", bytes(size)), ("b", bytes(size))]))
    before = threading.active_count()
    with path.open("rb") as file:
        archive = read_archive(file, path="a.zip")
        os.truncate(path, size // 2)
        with pytest.raises(ContainerError, match="ends too early"):
            hash_members(archive)
    assert threading.active_count() == before


def test_stops_at_once_when_interrupted():
    def interrupt(_count: int) -> None:
        raise KeyboardInterrupt

    archive = opened(written([(str(number), bytes(4 * limits.MIB)) for number in range(8)]))
    before = threading.active_count()
    with pytest.raises(KeyboardInterrupt):
        hash_members(archive, on_bytes=interrupt)
    assert threading.active_count() == before


def test_an_error_in_a_thread_that_nobody_foresaw_is_raised_too(monkeypatch):
    def broken(*_args) -> int:
        raise MemoryError

    archive = opened(written([("a", b"1")]))
    monkeypatch.setattr(hashing.zlib, "crc32", broken)
    with pytest.raises(MemoryError):
        hash_members(archive)
