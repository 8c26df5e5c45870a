"""`evidpack seal` without its own verification, to measure what that costs; for nothing else.

Usage: unverified.py seal …, as evidpack itself.  Neither is a byte read back nor the finished file read.
"""

from __future__ import annotations

import sys
from functools import partial

import evidpack.sealing.seal as sealing
from evidpack.cli.main import main


def without_verification() -> None:
    writer = sealing.ZipWriter
    sealing.ZipWriter = lambda stream, top, read_back: writer(stream, top)  # type: ignore[assignment, misc]
    sealing.require_own_work = partial(lambda *_, **__: None)


if __name__ == "__main__":
    without_verification()
    sys.exit(main())
