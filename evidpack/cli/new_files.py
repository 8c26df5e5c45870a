"""Writing what a command makes besides bundles and packs: whole, or not at all."""

from __future__ import annotations

from pathlib import Path

from evidpack.container.place import new_file


def write_new(path: Path, data: bytes) -> None:
    """Write a new file of these bytes, which only its owner may read.

    Raises:
        UsageError: something stands under the name, or no file can be made in its folder.
        SealError: it cannot be written whole; then nothing stands under the name.
    """
    with new_file(path) as placement:
        placement.write(data)
        placement.publish()
