"""Putting a finished file under its name: whole and synced, or not at all.

The bytes go to a temporary name in the same folder, so on the same disk, with mode 0600.
`publish` syncs them, gives them their name only if nothing stands under it, and syncs the folder.
Without `publish`, on any error or interrupt, the temporary file is removed.  After a kill or a
power cut it stays; the next attempt at the same name removes it, telling it from the file of a
process that still runs by a lock (flock) that dies with its process.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Thread
from types import TracebackType
from typing import BinaryIO, Self

from evidpack.container.naming import give_name, sync_folder
from evidpack.errors import SealError, UnsyncedError, UsageError


def _random_name() -> str:
    return secrets.token_hex(8)


def new_file(path: Path, *, random_name: Callable[[], str] = _random_name) -> Placement:
    """Begin a new file that is to stand at `path`.  Use as a context manager.

    Raises:
        UsageError: something stands at `path`, or no file can be made in its folder.
    """
    return Placement(path, random_name=random_name)


class Placement:
    """A file under a temporary name, until `publish`.

    Attributes:
        path: where it is to stand.
        temporary: where it stands until then.
        stream: opened for reading and writing, without buffering.
    """

    path: Path
    temporary: Path
    stream: BinaryIO

    def __init__(self, path: Path, *, random_name: Callable[[], str]) -> None:
        # First, since a process that died between giving the name and here left both.
        _remove_orphans(path)
        if os.path.lexists(path):
            raise _already(path)
        self.path = path
        self.temporary = path.with_name(f".{path.name}.{random_name()}.part")
        self._sync: _BackgroundSync | None = None
        try:
            descriptor = self._create()
        except OSError as error:
            raise UsageError(
                f"no file can be made in this folder: {error.strerror or error}",
                path=str(path.parent),
                hint="Choose a target folder that exists and that you may write to.",
            ) from error
        self.stream = os.fdopen(descriptor, "r+b", buffering=0)

    def _create(self) -> int:
        """Create and lock the temporary file, which must be new; its descriptor."""
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL
        flags |= getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOFOLLOW", 0)
        flags |= getattr(os, "O_BINARY", 0)
        descriptor = -1
        try:
            descriptor = os.open(self.temporary, flags, 0o600)
            _lock(descriptor, wait=True)
            if not self.temporary.exists():
                # Between creating and locking it was taken for an orphan.
                raise UsageError(
                    "another process is making a file of this name, and cleared ours away",
                    path=str(self.path),
                    hint="Let it end, and see what stands there then.",
                )
        except FileExistsError:
            raise
        except BaseException:
            # An interrupt may come when the file is made and its descriptor is not known yet.
            if descriptor >= 0:
                os.close(descriptor)
            with suppress(OSError):
                self.temporary.unlink()
            raise
        return descriptor

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.discard()

    def discard(self) -> None:
        """Close the file and remove what stands under the temporary name, if anything."""
        with suppress(OSError):
            self.stream.close()
        # Missing, since it has its name now; or what was raised before says more than this.
        with suppress(OSError):
            self.temporary.unlink()

    def write(self, data: bytes) -> None:
        """Write all of `data`. Raises SealError where that fails."""
        rest = memoryview(data)
        try:
            while rest:
                rest = rest[self.stream.write(rest) :]
        except OSError as error:
            raise SealError(
                f"the file cannot be written: {error.strerror or error}",
                path=str(self.path),
                hint="Nothing stands under its name. Free space there, or choose another place.",
            ) from error

    def begin_sync(self) -> None:
        """Begin to sync what is written so far, unless that is under way; `publish` waits for it.

        Raises:
            SealError: an earlier sync failed.
        """
        if self._sync is not None and self._sync.running:
            return
        try:
            if self._sync is not None:
                self._sync.wait()
            self.stream.flush()
            self._sync = _BackgroundSync(self.stream.fileno())
        except OSError as error:
            raise self._failed(error) from error

    def publish(self) -> None:
        """Sync the bytes and give them their name.

        Raises:
            UsageError: something stands under the name meanwhile; it is left as it is.
            SealError: the bytes cannot be synced, or the name cannot be given, and nothing stands
                under it.
            UnsyncedError: the whole file stands under its name, but the disk did not confirm the
                name, and did not let it be taken back.
        """
        try:
            self.stream.flush()
            if self._sync is not None:
                self._sync.wait()
            os.fsync(self.stream.fileno())
            if sys.platform == "win32":  # pragma: no cover - tests run on Linux
                self.stream.close()
            give_name(self.temporary, self.path)
        except FileExistsError:
            raise _already(self.path) from None
        except OSError as error:
            raise self._failed(error) from error
        try:
            sync_folder(self.path.parent)
        except OSError as error:
            try:
                self.path.unlink()
            except OSError:
                raise self._unsynced(error) from error
            raise self._failed(error) from error

    @property
    def stands(self) -> bool:
        """Whether the file that was begun here stands under its name now."""
        try:
            return os.path.samestat(self.path.lstat(), os.fstat(self.stream.fileno()))
        except (OSError, ValueError):  # ValueError: the stream is closed
            return False

    def _unsynced(self, error: OSError) -> UnsyncedError:
        return UnsyncedError(
            "the whole file stands under its name, but the disk did not confirm it: "
            f"{error.strerror or error}",
            path=str(self.path),
            hint="Copy it to another disk now, verify the copy, and do not use this disk on.",
        )

    def _failed(self, error: OSError) -> SealError:
        return SealError(
            f"the file cannot be put under its name: {error.strerror or error}",
            path=str(self.path),
            hint="Check the target disk, or choose another; nothing stands under the name.",
        )


class _BackgroundSync:
    """One fsync on a thread of its own, and on a descriptor of its own, so that none need wait."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = os.dup(descriptor)
        self._error: OSError | None = None
        self._thread = Thread(target=self._work, name="fsync", daemon=True)
        self._thread.start()

    def _work(self) -> None:
        try:
            os.fsync(self._descriptor)
        except OSError as error:
            self._error = error
        finally:
            os.close(self._descriptor)

    @property
    def running(self) -> bool:
        """Whether it is under way."""
        return self._thread.is_alive()

    def wait(self) -> None:
        """Return when it is done.  An error is told once (fsync(2)), so it must not be lost here.

        Raises:
            OSError: as the sync had it.
        """
        self._thread.join()
        if self._error is not None:
            raise self._error


def _lock(descriptor: int, *, wait: bool) -> bool:
    """Lock an open file for this process's life; False where that cannot be had."""
    if sys.platform == "win32":  # pragma: no cover - tests run on Linux
        return False
    import fcntl

    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def _remove_orphans(path: Path) -> None:
    """Remove temporary files for this name whose process has died."""
    pattern = re.compile(re.escape(f".{path.name}.") + r"[0-9a-f]{16}\.part")
    with suppress(OSError):
        for found in path.parent.iterdir():
            if pattern.fullmatch(found.name):
                _remove_if_orphan(found)


def _remove_if_orphan(temporary: Path) -> None:
    with suppress(OSError):
        descriptor = os.open(temporary, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
        try:
            if _lock(descriptor, wait=False):
                temporary.unlink()
        finally:
            os.close(descriptor)


def _already(path: Path) -> UsageError:
    return UsageError(
        "something stands under this name already, and nothing is ever replaced",
        path=str(path),
        hint="Choose another name, or move what stands there.",
    )


def require_space(folder: Path, needed_bytes: int) -> None:
    """Refuse to begin where the disk has not room enough.

    Raises:
        UsageError: less than `needed_bytes` are free to this user, or the folder is not there.
    """
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        raise UsageError(
            f"the target folder cannot be used: {error.strerror or error}",
            path=str(folder),
            hint="Choose a target folder that exists.",
        ) from error
    if free < needed_bytes:
        raise UsageError(
            "the target disk has not enough room",
            path=str(folder),
            expected=f"{needed_bytes} bytes free",
            observed=f"{free} bytes",
            hint="Free space there, or choose a target on another disk.",
        )
