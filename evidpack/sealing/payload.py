"""Copying the day's files into the bundle: read once, digested and committed on the way.

Stills are decoded on other threads while further files are copied; only a few are held in
memory at a time.
"""

from __future__ import annotations

import io
import os
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import BinaryIO, Final

from evidpack.container import layout
from evidpack.container.copying import SourceReader
from evidpack.container.zip_writer import Written, ZipWriter
from evidpack.errors import IntakeError
from evidpack.intake.pixels import pixel_facts
from evidpack.limits import MAX_STILL_BYTES
from evidpack.model.records import Item, ItemKind
from evidpack.proof.entries import PixelFacts

_WAITING_STILLS: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiedFile:
    """A file as it went into the bundle. `pixels` is None for what is not a decodable still."""

    item: Item
    key: bytes
    written: Written
    pixels: PixelFacts | None

    @property
    def sha256(self) -> bytes:
        """SHA-256 of the file's bytes."""
        return self.written.sha256


class PayloadWriter:
    """Copies items one after the other; `finish` gives them with their digests and pixels."""

    def __init__(
        self,
        archive: ZipWriter,
        *,
        random: Callable[[int], bytes],
        pixel_proof: bool,
        on_bytes: Callable[[int], None] | None,
    ) -> None:
        self._archive = archive
        self._random = random
        self._pixel_proof = pixel_proof
        self._on_bytes = on_bytes
        self._copied: list[tuple[Item, bytes, Written]] = []
        self._pixels: dict[str, PixelFacts | None] = {}
        self._pool = ThreadPoolExecutor(max_workers=os.cpu_count() or 1)
        self._waiting: deque[tuple[str, Future[PixelFacts | None]]] = deque()

    def close(self) -> None:
        """Stop the decoding threads, waiting for none that has not begun."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def copy(self, item: Item, stream: BinaryIO) -> None:
        """Copy one file.

        Raises ExportChangedError where it is not of the size that was listed, IntakeError where it
        cannot be read.
        """
        key = self._random(32)
        if self._pixel_proof and item.kind is ItemKind.STILL and item.size <= MAX_STILL_BYTES:
            data = _whole(stream, item)
            self._decode_later(item.path, data, key)
            stream = io.BytesIO(data)
        written = self._archive.add_stream(
            layout.DATA + item.path, item.size, stream, on_bytes=self._on_bytes
        )
        self._copied.append((item, key, written))

    def finish(self) -> Sequence[CopiedFile]:
        """Every file, in the order in which it was copied."""
        while self._waiting:
            self._take_oldest()
        return [
            CopiedFile(item=item, key=key, written=written, pixels=self._pixels.get(item.path))
            for item, key, written in self._copied
        ]

    def _decode_later(self, path: str, data: bytes, key: bytes) -> None:
        if len(self._waiting) >= _WAITING_STILLS:
            self._take_oldest()
        self._waiting.append((path, self._pool.submit(_pixels_or_none, data, key, path)))

    def _take_oldest(self) -> None:
        path, future = self._waiting.popleft()
        self._pixels[path] = future.result()


def _pixels_or_none(data: bytes, key: bytes, path: str) -> PixelFacts | None:
    """A still that cannot be decoded is sealed as a file; its entry then has no pixel root, and
    the re-check expects none."""
    try:
        return pixel_facts(data, key, path=path)
    except IntakeError as error:
        if isinstance(error.__cause__, MemoryError):
            # The re-check, on a computer with more of it, would find pixels that were not sealed.
            raise
        return None


def _whole(stream: BinaryIO, item: Item) -> bytes:
    data = bytearray(item.size)
    reader = SourceReader(stream, item.path, item.size)
    reader.fill(memoryview(data))
    reader.require_end()
    return bytes(data)
