"""Putting a finished file under its name: whole and synced, or not at all.

The bytes go to a temporary name in the same folder, so on the same disk, with mode 0600.
`publish` syncs them, gives them their name only if nothing stands under it, and syncs the folder.
Without `publish`, on any error or interrupt, the temporary file is removed.

How a name is given without ever replacing one, tried in this order:

1. `link` to the name, then remove the temporary name.  Fails if the name exists.  Where a machine
   stops between the two, the whole file stands under both names.
2. Where the file system has no hard links (FAT, exFAT, some network shares): a rename that
   refuses to replace: `renameat2` with RENAME_NOREPLACE on Linux, a plain rename on Windows.
3. Where there is neither: claim the name by creating an empty file that must not exist before,
   then rename over that empty file.  A machine that stops in between leaves an empty file under
   the name, which does not verify.
"""

from __future__ import annotations

import ctypes
import errno
import os
import secrets
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Final, Self

from evidpack.errors import SealError, UsageError

_NO_LINKS: Final = frozenset(
    {errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK, errno.EACCES}
)
_NO_RENAME: Final = frozenset({errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP})
_RENAME_NOREPLACE: Final = 1
_AT_FDCWD: Final = -100


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
        if os.path.lexists(path):
            raise _already(path)
        self.path = path
        self.temporary = path.with_name(f".{path.name}.{random_name()}.part")
        self._there = False
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL
        flags |= getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOFOLLOW", 0)
        flags |= getattr(os, "O_BINARY", 0)
        try:
            descriptor = os.open(self.temporary, flags, 0o600)
        except OSError as error:
            raise UsageError(
                f"no file can be made in this folder: {error.strerror or error}",
                path=str(path.parent),
                hint="Choose a target folder that exists and that you may write to.",
            ) from error
        self._there = True
        self.stream = os.fdopen(descriptor, "r+b", buffering=0)

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
        if self._there:
            with suppress(FileNotFoundError):
                self.temporary.unlink()
            self._there = False

    def publish(self) -> None:
        """Sync the bytes and give them their name.

        Raises:
            UsageError: something stands under the name meanwhile; it is left as it is.
            SealError: the bytes cannot be synced, or the name cannot be given.
        """
        try:
            self.stream.flush()
            os.fsync(self.stream.fileno())
            self.stream.close()
            self._give_name()
            _sync_folder(self.path.parent)
        except FileExistsError:
            raise _already(self.path) from None
        except OSError as error:
            raise SealError(
                f"the file cannot be put under its name: {error.strerror or error}",
                path=str(self.path),
                hint="Check the target disk; nothing half-finished stands under the name.",
            ) from error

    def _give_name(self) -> None:
        try:
            os.link(self.temporary, self.path, follow_symlinks=False)
        except OSError as error:
            if error.errno not in _NO_LINKS:
                raise
        else:
            self.temporary.unlink()
            self._there = False
            return
        if not _renamed_without_replacing(self.temporary, self.path):
            _rename_onto_claim(self.temporary, self.path)
        self._there = False


def _already(path: Path) -> UsageError:
    return UsageError(
        "something stands under this name already, and nothing is ever replaced",
        path=str(path),
        hint="Choose another name, or move what stands there.",
    )


def _renamed_without_replacing(source: Path, target: Path) -> bool:
    """Rename, refusing to replace; False where the system or file system has no such call."""
    if sys.platform == "win32":
        source.rename(target)
        return True
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if rename is None:
        return False
    # fmt: off
    failed = rename(
        _AT_FDCWD, os.fsencode(source), _AT_FDCWD, os.fsencode(target), _RENAME_NOREPLACE
    )
    # fmt: on
    number = ctypes.get_errno()
    if failed and number in _NO_RENAME:
        return False
    if failed:
        raise OSError(number, os.strerror(number), str(target))
    return True


def _rename_onto_claim(source: Path, target: Path) -> None:
    """Claim the name with an empty file, and rename over it if it is still that empty file."""
    descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        claimed = os.fstat(descriptor)
    finally:
        os.close(descriptor)
    found = target.lstat()
    if (found.st_dev, found.st_ino, found.st_size) != (claimed.st_dev, claimed.st_ino, 0):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))
    try:
        source.replace(target)
    except BaseException:
        target.unlink()
        raise


def _sync_folder(folder: Path) -> None:
    """Sync the folder, so that the name outlives a power cut; some file systems have no such call."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in {errno.EINVAL, errno.ENOTSUP}:
            raise
    finally:
        os.close(descriptor)


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
