"""The folder in which all is measured: keys, days made once and kept, and the commands on them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from tests.bench.days import add_clips, add_small_files, add_stills, write_day
from tests.bench.measure import run

EVIDPACK = str(Path(sys.executable).with_name("evidpack"))
BIG_CLIPS_BYTES = 500_000_000
STILLS = 400
SMALL_FILES = 20_000


@dataclass(frozen=True, slots=True)
class Place:
    """A folder of the bench, filled as it is needed."""

    folder: Path

    def prepare(self) -> None:
        """Make the folder and its keys; compile evidpack, as installing it does."""
        self.folder.mkdir(parents=True, exist_ok=True)
        subprocess.run([sys.executable, "-m", "compileall", "-q", "evidpack"], check=True)
        if not self.keys.exists():
            run([EVIDPACK, "key", "demo-authority", "-o", str(self.keys)])

    @property
    def keys(self) -> Path:
        return self.folder / "keys"

    @property
    def signing(self) -> list[str]:
        return ["--key", str(self.keys / "signer.key"), "--cert", str(self.keys / "signer.pem"),
                "--passphrase-file", str(self.keys / "passphrase.txt")]  # fmt: skip

    def sealing(self, day: Path, output: Path, *options: str) -> list[str]:
        return [EVIDPACK, "seal", str(day), *self.signing, "--no-time-stamp", *options,
                "-o", str(output)]  # fmt: skip

    def verifying(self, bundle: Path) -> list[str]:
        """Steps 1 to 7 with an anchor; ends with 0."""
        return [EVIDPACK, "verify", str(bundle), "--no-recheck", "--accept-claimed-time",
                "--anchor", str(self.keys / "authority.pem")]  # fmt: skip

    def big(self, *, clip_bytes: int = BIG_CLIPS_BYTES) -> Path:
        """400 stills of some 300 kB with their readings, and four clips."""
        place = self.folder / f"big-{clip_bytes}"
        if not place.exists():
            write_day(place, reference="BENCH-1", readings=STILLS)
            add_stills(place, STILLS, size=(1280, 720), quality=91)
            add_clips(place, 4, size=clip_bytes)
        return place / "day.toml"

    def small(self, *, count: int = SMALL_FILES, size: int = 20_000) -> Path:
        """So many files of so many bytes, in folders of a thousand."""
        place = self.folder / f"small-{count}-{size}"
        if not place.exists():
            write_day(place, reference="BENCH-2", readings=1)
            add_small_files(place, count, size=size)
        return place / "day.toml"

    def readings(self, count: int) -> Path:
        """A log with so many readings, and nothing else."""
        place = self.folder / f"readings-{count}"
        if not place.exists():
            write_day(place, reference="BENCH-3", readings=count)
        return place / "day.toml"

    def full_hd(self) -> Path:
        """A folder of 400 stills of 1920 × 1080."""
        place = self.folder / "stills"
        if not place.exists():
            add_stills(place, STILLS, size=(1920, 1080), quality=85)
        return place / "export" / "stills"

    def bundle(self, day: Path, *options: str) -> Path:
        """The day sealed anew, for what is measured on a bundle."""
        bundle = self.folder / "bundle.zip"
        bundle.unlink(missing_ok=True)
        run(self.sealing(day, bundle, *options))
        return bundle

    def clear(self) -> None:
        """Remove what a sealing or its peer left."""
        for name in ("ours.zip", "theirs.zip", "bundle.zip"):
            (self.folder / name).unlink(missing_ok=True)
        shutil.rmtree(self.folder / "bag", ignore_errors=True)
