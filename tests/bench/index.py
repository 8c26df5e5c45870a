"""Build the index PDF of so many captures, with a picture of each.

Usage: index.py COUNT [FOLDER]; with FOLDER its JPEGs are decoded in turn, one for each capture, else
all captures have one ready-made picture.
"""

from __future__ import annotations

import itertools
import os
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from evidpack.index.index import build_index
from evidpack.index.thumbnails import make_thumbnail
from tests.index.invented import content, still


def thumbnails(folder: str | None) -> Callable[[str], bytes]:
    if folder is None:
        ready = make_thumbnail(BytesIO(still()))
        return lambda _path: ready
    stills = itertools.cycle(sorted(Path(folder).glob("*.jpg")))
    return lambda _path: make_thumbnail(BytesIO(next(stills).read_bytes()))


def main(count: int, folder: str | None) -> None:
    pdf = build_index(
        content(count), thumbnail=thumbnails(folder), workers=len(os.sched_getaffinity(0))
    )
    print(len(pdf))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else None)
