"""A power cut at every call by which a seal changes the disk.

A kill leaves everything in the system's memory, and so says nothing about power.  Here the target
is a small ext4 in a file; at each call we take a copy of that file, which holds only what has
reached the disk by then, mount the copy as after a restart, and look.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.faults.deciding import Counted, changes
from tests.faults.disks import image, make_image
from tests.faults.figures import require_tried
from tests.faults.system_calls import Call, Decision, Pretend
from tests.faults.world import BUNDLE, World, parts

pytestmark = pytest.mark.usefixtures("held")

_DISK_BYTES = 16 * 1024 * 1024


class Cuts:
    """Copies of a disk, taken at every call that changes it and at the end."""

    def __init__(self, disk: Path, folder: Path) -> None:
        self._disk, self._folder = disk, folder
        self.taken: list[Path] = []

    def take(self) -> None:
        """What is on the disk now."""
        copy = self._folder / f"cut-{len(self.taken)}.img"
        shutil.copyfile(self._disk, copy)
        self.taken.append(copy)

    def left(self, world: World) -> list[bool]:
        """Whether a bundle stands under its name after each cut; one that does is whole."""
        found = []
        for number, copy in enumerate(self.taken):
            with image(copy, self._folder / f"after-{number}") as folder:
                shutil.rmtree(folder / "lost+found", ignore_errors=True)
                assert len(parts(folder)) <= 1
                found.append(world.whole(folder / BUNDLE))
            copy.unlink()
        return found


def cut(world: World, folder: Path, answer: Decision = None, *, at_end: bool = False) -> list[bool]:
    """Seal to a disk with a cut at every change, or only at the end; syncs get this answer."""
    disk = folder / "disk.img"
    make_image(disk, size_bytes=_DISK_BYTES)
    cuts = Cuts(disk, folder)

    def decide(call: Call, _count: int) -> Decision:
        if not at_end:
            cuts.take()
        return answer if call.name in {"fsync", "fdatasync"} else None

    with image(disk, folder / "disk") as target:
        shutil.rmtree(target / "lost+found")
        ended = world.seal(target, Counted(changes(target), decide))
        # The very moment at which the person who sealed has been told so.
        cuts.take()
        assert ended.code == 0, ended.words
    world.require_untouched()
    return cuts.left(world)


def test_a_power_cut_leaves_a_whole_bundle_or_none_and_what_was_said_to_be_sealed_is(
    world: World, tmp_path: Path
) -> None:
    left = cut(world, tmp_path)
    assert not left[0]
    assert left[-1]
    assert left == sorted(left), "a bundle that was on the disk has gone again"
    require_tried("power cut", len(left))


def test_a_disk_that_lies_about_syncing_is_found_out_by_the_test_above(
    world: World, tmp_path: Path
) -> None:
    assert cut(world, tmp_path, Pretend(), at_end=True) == [False]
