"""Digest and checksum of every member of an archive, on several threads."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from queue import SimpleQueue
from threading import Event, Lock, Thread
from typing import Final

from evidpack import limits
from evidpack.container.archive import Archive, ByteSource, Member
from evidpack.container.faults import BagFault
from evidpack.container.zip_writer import Written
from evidpack.errors import ContainerError

# Small members lie side by side: one read fetches many of them.
_BATCH_BYTES: Final = 512 * limits.KIB
_PIECE_BYTES: Final = limits.COPY_BUFFER_BYTES
# How often the bytes done are told while a large member is read.
_TELL_BYTES: Final = 4 * limits.MIB


def hash_members(
    archive: Archive,
    *,
    on_bytes: Callable[[int], None] | None = None,
    workers: int = 2,
    faults: list[BagFault] | None = None,
    compared: Mapping[str, Written] | None = None,
) -> dict[str, bytes]:
    """SHA-256 of every member, by name in archive order; each CRC-32 is checked on the way.

    Args:
        archive: its structure checked.
        on_bytes: called, on the calling thread, with numbers of bytes read since the last call.
        workers: threads.
        faults: gets one fault for each member whose CRC-32 differs.  Without it the first such
            fault is raised, so that none goes unseen.
        compared: by name, members that were read back and compared as they were written
            (`ZipWriter(read_back=True)`): not read again where they stand as they were written.

    Raises:
        ContainerError: the archive cannot be read to its end; or a CRC-32 differs and `faults`
            is None.
    """
    known = {} if compared is None else compared
    unread = [member for member in archive.members if not _stands_as_written(member, known)]
    run = _Run(archive.source, unread, workers)
    run.go(on_bytes)
    found: list[BagFault] = []
    for member in unread:
        crc32 = run.checksums[member.name]
        if crc32 != member.crc32:
            fault = BagFault(
                item=member.name,
                message="the bytes do not have the stated CRC-32",
                expected=f"{member.crc32:08x}",
                observed=f"{crc32:08x}",
            )
            found.append(fault)
    if faults is not None:
        faults.extend(found)
    elif found:
        raise ContainerError(
            f"{found[0].item}: {found[0].message}",
            path=archive.path,
            expected=found[0].expected,
            observed=found[0].observed,
        )
    return {
        member.name: run.digests.get(member.name) or known[member.name].sha256
        for member in archive.members
    }


def _stands_as_written(member: Member, known: Mapping[str, Written]) -> bool:
    written = known.get(member.name)
    return written is not None and (member.offset, member.size, member.crc32) == (
        written.offset,
        written.size,
        written.crc32,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unit:
    """Work for one thread: neighbouring small members, or one large one whole or in part."""

    members: tuple[Member, ...]
    digest: bool = True
    checksum: bool = True


class _Run:
    """One pass over an archive; threads take unit after unit and tell the bytes they have done."""

    def __init__(self, source: ByteSource, members: Sequence[Member], workers: int) -> None:
        self.digests: dict[str, bytes] = {}
        self.checksums: dict[str, int] = {}
        self._source = source
        self._workers = workers
        self._units = _units(members, workers)
        self._lock = Lock()
        self._stop = Event()
        self._told: SimpleQueue[int | Exception | None] = SimpleQueue()

    def go(self, on_bytes: Callable[[int], None] | None) -> None:
        """Run to the end, or until something is raised here or in a thread."""
        threads = [
            Thread(target=self._work, name=f"hash-{number}", daemon=True)
            for number in range(self._workers)
        ]
        for thread in threads:
            thread.start()
        running = len(threads)
        try:
            while running:
                told = self._told.get()
                if told is None:
                    running -= 1
                elif isinstance(told, int):
                    if on_bytes is not None:
                        on_bytes(told)
                else:
                    raise told
        finally:
            self._stop.set()
            for thread in threads:
                thread.join()

    def _work(self) -> None:
        buffer = memoryview(bytearray(_BATCH_BYTES))
        try:
            while not self._stop.is_set():
                with self._lock:
                    unit = next(self._units, None)
                if unit is None:
                    break
                if unit.members[-1].size > _BATCH_BYTES:
                    self._large(unit, buffer[:_PIECE_BYTES])
                else:
                    self._batch(unit.members, buffer)
        except Exception as error:  # noqa: BLE001 - raised again on the calling thread
            self._told.put(error)
        finally:
            self._told.put(None)

    def _batch(self, members: tuple[Member, ...], buffer: memoryview) -> None:
        """Members that lie within one buffer of one another."""
        start = members[0].offset
        span = buffer[: members[-1].offset + members[-1].size - start]
        self._source.fill(start, span)
        for member in members:
            view = span[member.offset - start : member.offset - start + member.size]
            self.digests[member.name] = hashlib.sha256(view).digest()
            self.checksums[member.name] = zlib.crc32(view)
        self._told.put(sum(member.size for member in members))

    def _large(self, unit: _Unit, buffer: memoryview) -> None:
        """One member, piece by piece."""
        member = unit.members[0]
        digest = hashlib.sha256()
        crc32 = 0
        done = untold = 0
        while done < member.size and not self._stop.is_set():
            view = buffer[: min(len(buffer), member.size - done)]
            self._source.fill(member.offset + done, view)
            if unit.digest:
                digest.update(view)
                untold += len(view)
            if unit.checksum:
                crc32 = zlib.crc32(view, crc32)
            done += len(view)
            if untold >= _TELL_BYTES:
                self._told.put(untold)
                untold = 0
        self._told.put(untold)
        if unit.digest:
            self.digests[member.name] = digest.digest()
        if unit.checksum:
            self.checksums[member.name] = crc32


def _units(members: Sequence[Member], workers: int) -> Iterator[_Unit]:
    """Cut the members, which stand in the order of the file, into units."""
    total = sum(member.size for member in members)
    batch: list[Member] = []
    for member in members:
        if batch and member.offset + member.size - batch[0].offset > _BATCH_BYTES:
            yield _Unit(members=tuple(batch))
            batch = []
        if member.size <= _BATCH_BYTES:
            batch.append(member)
        elif workers > 1 and member.size > total // workers:
            # One member holds most of the bytes: let two threads share it.
            yield _Unit(members=(member,), checksum=False)
            yield _Unit(members=(member,), digest=False)
        else:
            yield _Unit(members=(member,))
    if batch:
        yield _Unit(members=tuple(batch))
