"""Decoding every still of a folder, with or without committing to its tiles, on all cores.

Usage: stills.py decode|commit FOLDER
"""

from __future__ import annotations

import io
import os
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from PIL import Image


def decode(path: Path) -> int:
    with Image.open(io.BytesIO(path.read_bytes())) as image:
        image.load()
        return image.width


def commit(path: Path) -> int:
    from evidpack.intake.pixels import pixel_facts

    return pixel_facts(path.read_bytes(), bytes(32), path=path.name).width_px


def main(what: str, folder: Path) -> None:
    work = {"decode": decode, "commit": commit}[what]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        done = sum(1 for _ in pool.map(work, sorted(folder.glob("*.jpg"))))
    print(done)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
