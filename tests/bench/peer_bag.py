"""The peer: a bag by bagit-python, then a stored ZIP by zipfile, then `sync` of the file.

Usage: peer_bag.py FOLDER OUT.zip (FOLDER is turned into a bag in place, as bagit does).
"""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import bagit


def main(folder: Path, output: Path) -> None:
    bagit.make_bag(str(folder), checksums=["sha256"], processes=2)
    with zipfile.ZipFile(output, "w", zipfile.ZIP_STORED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                archive.write(path, path.relative_to(folder.parent))
    subprocess.run(["sync", str(output)], check=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
