"""Giving a finished file its name without ever replacing what stands there.

Tried in this order:

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
import sys
from contextlib import suppress
from pathlib import Path
from typing import Final

_NO_LINKS: Final = frozenset(
    {errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK, errno.EACCES}
)
_NO_RENAME: Final = frozenset({errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP})
_RENAME_NOREPLACE: Final = 1
_AT_FDCWD: Final = -100


def give_name(temporary: Path, path: Path) -> None:
    """Move a file to its name in the same folder.

    Raises:
        FileExistsError: something stands under the name; nothing was changed.
        OSError: the name cannot be given, and nothing stands under it.
    """
    try:
        os.link(temporary, path, follow_symlinks=False)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
    else:
        # The file stands under its name now: a second name that cannot be removed is no failure.
        with suppress(OSError):
            temporary.unlink()
        return
    if not _renamed_without_replacing(temporary, path):
        _rename_onto_claim(temporary, path)


def _renamed_without_replacing(source: Path, target: Path) -> bool:
    """Rename, refusing to replace; False where the system or file system has no such call."""
    if sys.platform == "win32":  # pragma: no cover - tests run on Linux
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


def sync_folder(folder: Path) -> None:
    """Sync the folder, so that the name outlives a power cut; some file systems have no such call."""
    if sys.platform == "win32":  # pragma: no cover - tests run on Linux
        return
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in {errno.EINVAL, errno.ENOTSUP}:
            raise
    finally:
        os.close(descriptor)
