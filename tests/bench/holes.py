"""Seal and verify a day with a sparse file of more than 4 GiB; run by hand.

    python -m tests.bench.holes FOLDER [--gib 4.1]

A recorder's or a camera's file may have holes, and a member of 4 GiB or more needs ZIP64.  The bundle
holds the file as it reads, zeros and all, so FOLDER needs as much room; it is removed at the end.  This
checks what was sealed against the file itself, with zipfile and with unzip, and prints the figures.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

from tests.bench.measure import run
from tests.small_day import write_small_day

EVIDPACK = str(Path(sys.executable).with_name("evidpack"))
GIB = 2**30
MARKS = (0, GIB - 7, 2 * GIB, 4 * GIB - 9)
NAME = "clip with holes.bin"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--gib", type=float, default=4.1)
    arguments = parser.parse_args()
    folder = arguments.folder.absolute()
    folder.mkdir(parents=True)
    try:
        measure(folder, int(arguments.gib * GIB))
    finally:
        shutil.rmtree(folder)


def measure(folder: Path, size: int) -> None:
    """Write, seal, compare, verify."""
    day = write_small_day(folder / "day")
    path = day.parent / "export" / NAME
    write_with_holes(path, size)
    (day.parent / "export" / "zz behind it.txt").write_text("behind 4 GiB\n")
    print(f"the file reads as {size} bytes and takes {path.stat().st_blocks * 512} on the disk")
    keys, bundle = folder / "keys", folder / "bundle.zip"
    run([EVIDPACK, "key", "demo-authority", "-o", str(keys)])
    sealed = run([
        EVIDPACK, "seal", str(day), "--key", str(keys / "signer.key"),
        "--cert", str(keys / "signer.pem"), "--passphrase-file", str(keys / "passphrase.txt"),
        "--no-time-stamp", "-o", str(bundle),
    ])  # fmt: skip
    print(f"seal: {sealed.wall_s:.1f} s, {sealed.processor_s:.1f} s of processor, "
          f"peak {sealed.peak_mb:.0f} MB")  # fmt: skip
    compare(bundle, path)
    verifying = [
        EVIDPACK, "verify", str(bundle), "--anchor", str(keys / "authority.pem"),
        "--accept-claimed-time",
    ]  # fmt: skip
    verified = run(verifying)
    subprocess.run([*verifying, "--no-recheck"], check=True, stdout=subprocess.DEVNULL)
    print(f"verify: {verified.wall_s:.1f} s, {verified.processor_s:.1f} s of processor, "
          f"peak {verified.peak_mb:.0f} MB; exit code 0")  # fmt: skip


def write_with_holes(path: Path, size: int) -> None:
    """A file of zeros that takes next to no room, with marks at the places that matter."""
    with path.open("wb") as stream:
        for mark in MARKS:
            if mark < size:
                stream.seek(mark)
                stream.write(f"mark at {mark}".encode())
        stream.truncate(size)


def compare(bundle: Path, path: Path) -> None:
    """The member is the file, byte for byte, for zipfile and unzip; what stands behind it too."""
    with path.open("rb") as stream:
        expected = hashlib.file_digest(stream, "sha256").hexdigest()
    with zipfile.ZipFile(bundle) as archive:
        (name,) = (one for one in archive.namelist() if one.endswith(f"/{NAME}"))
        (behind,) = (one for one in archive.namelist() if one.endswith("/zz behind it.txt"))
        assert archive.getinfo(name).file_size == path.stat().st_size
        assert archive.getinfo(behind).header_offset > 4 * GIB
        with archive.open(name) as member:
            assert hashlib.file_digest(member, "sha256").hexdigest() == expected
        assert archive.read(behind) == b"behind 4 GiB\n"
    piped = subprocess.Popen(["unzip", "-p", bundle, name], stdout=subprocess.PIPE)
    assert piped.stdout is not None
    digest = hashlib.sha256()
    while piece := piped.stdout.read(2**20):
        digest.update(piece)
    assert piped.wait() == 0
    assert digest.hexdigest() == expected
    print(f"SHA-256 {expected}: the file, zipfile and unzip agree; {os.fspath(bundle)} is "
          f"{bundle.stat().st_size} bytes")  # fmt: skip


if __name__ == "__main__":
    main()
