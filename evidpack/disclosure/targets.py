"""Where a finished pack goes: to a file as it is, or encrypted to a file.

A pack is written and verified in the clear first.  Where only its encrypted form is wanted, the
plain one stands in a temporary file without a name, which is gone when it is closed.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, BinaryIO, Protocol, cast

from evidpack.container.aes_zip import encrypt_pack
from evidpack.container.place import Placement, new_file, require_space


class Place(Protocol):
    """A stream to write to, and what to do when all is well."""

    @property
    def stream(self) -> BinaryIO:
        """Seekable, for reading and writing."""

    @property
    def stands(self) -> bool:
        """Whether what was begun here stands under its name now."""

    def prepare(self) -> Encrypted | None:
        """Encrypt what was written, where it is to be encrypted."""

    def publish(self) -> None:
        """Give what was prepared its name."""


class Target(Protocol):
    """Begins a place; what is not published leaves nothing behind."""

    @property
    def name(self) -> str:
        """The name, for messages."""

    def begin(self, needed_bytes: int) -> AbstractContextManager[Place]:
        """A context manager that gives a Place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Encrypted:
    """The encrypted form: SHA-256 (32 bytes) and size in bytes."""

    sha256: bytes
    size: int


class _Plain:
    """A plain pack in its placement."""

    def __init__(self, placement: Placement) -> None:
        self._placement = placement
        self.stream = placement.stream

    @property
    def stands(self) -> bool:
        """Whether the pack stands under its name now."""
        return self._placement.stands

    def prepare(self) -> None:
        """Nothing is to be encrypted."""

    def publish(self) -> None:
        """Give the pack its name."""
        self._placement.publish()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainTarget:
    """The pack as it is."""

    path: Path

    @property
    def name(self) -> str:
        """The path as text."""
        return str(self.path)

    @contextmanager
    def begin(self, needed_bytes: int) -> Iterator[_Plain]:
        """A placement at the path. Raises UsageError where something stands there."""
        require_space(self.path.absolute().parent, needed_bytes)
        with new_file(self.path) as placement:
            yield _Plain(placement)


@dataclass(frozen=True, slots=True, kw_only=True)
class EncryptedTarget:
    """The pack encrypted; the plain form is kept nowhere.

    `salt` is 16 random bytes.
    """

    path: Path
    passphrase: str
    salt: bytes

    @property
    def name(self) -> str:
        """The path as text."""
        return str(self.path)

    @contextmanager
    def begin(self, needed_bytes: int) -> Iterator[_Encrypting]:
        """A temporary plain file; publishing encrypts it to the path."""
        folder = self.path.absolute().parent
        require_space(folder, 2 * needed_bytes)
        with new_file(self.path) as placement, tempfile.TemporaryFile(dir=folder) as plain:
            yield _Encrypting(self, placement, plain)


class _Encrypting:
    """A plain pack on its way."""

    def __init__(self, target: EncryptedTarget, placement: Placement, plain: IO[bytes]) -> None:
        self._target = target
        self._placement = placement
        self.stream = cast("BinaryIO", plain)

    @property
    def stands(self) -> bool:
        """Whether the encrypted pack stands under its name now."""
        return self._placement.stands

    def prepare(self) -> Encrypted:
        """Encrypt the plain pack; the digest and size of what came out."""
        size = self.stream.seek(0, os.SEEK_END)
        self.stream.seek(0)
        digesting = _Digesting(self._placement.stream)
        written = encrypt_pack(
            self.stream,
            size,
            cast("BinaryIO", digesting),
            passphrase=self._target.passphrase,
            salt=self._target.salt,
        )
        return Encrypted(sha256=digesting.digest.digest(), size=written)

    def publish(self) -> None:
        """Give the encrypted pack its name."""
        self._placement.publish()


class _Digesting:
    """A stream that digests what is written to it, each byte once and in order."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self.digest = hashlib.sha256()

    def write(self, data: bytes | memoryview) -> int:
        """Write and digest as much as the stream takes."""
        done = self._stream.write(data)
        self.digest.update(memoryview(data)[:done])
        return done

    def flush(self) -> None:
        """Flush the stream."""
        self._stream.flush()
