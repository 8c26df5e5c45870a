"""System calls that read or change files: their numbers, and which arguments say which file.

Numbers from Linux's own tables (asm/unistd_64.h for x86-64, asm-generic/unistd.h for arm64), which
never change.  A call that a machine does not have has no number there.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Final

AT_FDCWD: Final = -100

# Audit architecture (linux/audit.h), number of seccomp itself, and the column of `_TABLE`.
MACHINES: Final = {
    "x86_64": (0xC000003E, 317, 0),
    "aarch64": (0xC00000B7, 277, 1),
}

# name: (x86-64, arm64, the arguments that name files). "0" is a descriptor, "p1" a path, "d0p1" a
# path under a folder's descriptor.
_TABLE: Final = {
    "read": (0, 63, "0"),
    "pread64": (17, 67, "0"),
    "readv": (19, 65, "0"),
    "preadv": (295, 69, "0"),
    "preadv2": (327, 286, "0"),
    "getdents64": (217, 61, "0"),
    "fstat": (5, 80, "0"),
    "stat": (4, None, "p0"),
    "lstat": (6, None, "p0"),
    "newfstatat": (262, 79, "d0p1"),
    "statx": (332, 291, "d0p1"),
    "open": (2, None, "p0"),
    "openat": (257, 56, "d0p1"),
    "openat2": (437, 437, "d0p1"),
    "creat": (85, None, "p0"),
    "write": (1, 64, "0"),
    "pwrite64": (18, 68, "0"),
    "writev": (20, 66, "0"),
    "pwritev": (296, 70, "0"),
    "pwritev2": (328, 287, "0"),
    "sendfile": (40, 71, "0"),
    "copy_file_range": (326, 285, "2"),
    "splice": (275, 76, "2"),
    "truncate": (76, 45, "p0"),
    "ftruncate": (77, 46, "0"),
    "fallocate": (285, 47, "0"),
    "sync_file_range": (277, 84, "0"),
    "fsync": (74, 82, "0"),
    "fdatasync": (75, 83, "0"),
    "flock": (73, 32, "0"),
    "chmod": (90, None, "p0"),
    "fchmod": (91, 52, "0"),
    "fchmodat": (268, 53, "d0p1"),
    "utimensat": (280, 88, "d0p1"),
    "mkdir": (83, None, "p0"),
    "mkdirat": (258, 34, "d0p1"),
    "rmdir": (84, None, "p0"),
    "unlink": (87, None, "p0"),
    "unlinkat": (263, 35, "d0p1"),
    "link": (86, None, "p0 p1"),
    "linkat": (265, 37, "d0p1 d2p3"),
    "symlink": (88, None, "p1"),
    "symlinkat": (266, 36, "d1p2"),
    "rename": (82, None, "p0 p1"),
    "renameat": (264, 38, "d0p1 d2p3"),
    "renameat2": (316, 276, "d0p1 d2p3"),
}

_READING: Final = (
    "read", "pread64", "readv", "preadv", "preadv2", "getdents64", "fstat", "stat", "lstat",
    "newfstatat", "statx",
)  # fmt: skip
_OPENING: Final = ("open", "openat", "openat2", "creat")

READS: Final = frozenset((*_READING, *_OPENING))
WRITES: Final = frozenset(_TABLE) - frozenset(_READING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbered:
    """A system call as this machine knows it."""

    name: str
    number: int
    arguments: tuple[str, ...]


def numbered(names: frozenset[str], machine: str) -> dict[int, Numbered]:
    """Those of the named calls that this kind of machine has, by number."""
    column = MACHINES[machine][2]
    found = (
        (name, _TABLE[name][column], _TABLE[name][2]) for name in _TABLE if name in names
    )  # fmt: skip
    return {
        number: Numbered(name=name, number=number, arguments=tuple(arguments.split()))
        for name, number, arguments in found
        if isinstance(number, int)
    }


def opens_for_writing(name: str, arguments: tuple[int, ...]) -> bool:
    """Whether an opening call may create or change a file."""
    if name == "creat":
        return True
    flags = arguments[1 if name == "open" else 2]
    writing = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
    return bool(flags & writing)


def is_opening(name: str) -> bool:
    """Whether the call opens a file."""
    return name in _OPENING
