"""When and on what was measured, in one sentence, so that a figure is never quoted without it."""

from __future__ import annotations

import os
import platform
import re
import shutil
import ssl
import subprocess
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path


def described(folder: Path) -> str:
    """Date, processor, memory, disk, system and versions."""
    return (
        f"{datetime.now(UTC):%Y-%m-%d}, {_processor()}, {len(os.sched_getaffinity(0))} cores, "
        f"{_memory_gb():.0f} GB of memory, {_file_system(folder)}, {platform.system()} "
        f"{platform.release()}, Python {platform.python_version()}, {ssl.OPENSSL_VERSION}, "
        f"bagit {version('bagit')}, Pillow {version('pillow')}, reportlab {version('reportlab')}, "
        f"evidpack {version('evidpack')}; load of the machine at the start {os.getloadavg()[0]:.1f}."
    )


def _processor() -> str:
    found = re.search(r"^model name\s*: (.*)$", Path("/proc/cpuinfo").read_text(), re.MULTILINE)
    return found[1] if found else platform.processor() or "a processor that does not say its name"


def _memory_gb() -> float:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9


def _file_system(folder: Path) -> str:
    if shutil.which("findmnt") is None:
        return "a file system that was not asked for its name"
    told = subprocess.run(
        ["findmnt", "-n", "-o", "FSTYPE", "-T", str(folder)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return told.stdout.strip() or "a file system that does not say its name"
