"""Measure evidpack beside its peers and print a table.

    python -m tests.bench FOLDER [--rounds 5] [--only seal,verify,small,stills,check,start,memory]

FOLDER is made, filled (about 10 GB for everything) and kept, so that a second run is quicker.
Run it from the project's root, in the environment in which evidpack is installed, on a machine
that does nothing else.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from tests.bench.days import add_clips, add_small_files, add_stills, write_day
from tests.bench.measure import Contest, Cost, alternate, run

HERE = Path(__file__).parent
EVIDPACK = str(Path(sys.executable).with_name("evidpack"))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--only", default=",".join(WORKS))
    arguments = parser.parse_args()
    arguments.folder.mkdir(parents=True, exist_ok=True)
    keys = arguments.folder / "keys"
    if not keys.exists():
        run([EVIDPACK, "key", "demo-authority", "-o", str(keys)])
    print(
        "| work | wall, ours | wall, peer | ratio | processor, ours | processor, peer | ratio | peak, ours |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for name in arguments.only.split(","):
        WORKS[name](arguments.folder, arguments.rounds)


def row(work: str, ours: Cost, theirs: Cost) -> None:
    """One line of the table."""
    print(
        f"| {work} | {ours.wall_s:.3f} s | {theirs.wall_s:.3f} s "
        f"| {ours.wall_s / theirs.wall_s:.2f} | {ours.processor_s:.2f} s "
        f"| {theirs.processor_s:.2f} s | {ours.processor_s / theirs.processor_s:.2f} "
        f"| {ours.peak_mb:.0f} MB |",
        flush=True,
    )


def sealing(folder: Path, day: Path, output: Path, *options: str) -> list[str]:
    keys = folder / "keys"
    return [
        EVIDPACK, "seal", str(day), "--key", str(keys / "signer.key"),
        "--cert", str(keys / "signer.pem"), "--passphrase-file", str(keys / "passphrase.txt"),
        "--no-time-stamp", *options, "-o", str(output),
    ]  # fmt: skip


def big_day(folder: Path, *, clip_bytes: int = 500_000_000, name: str = "big") -> Path:
    place = folder / name
    if not place.exists():
        day = write_day(place, reference="BENCH-1", readings=400)
        add_stills(place, 400, size=(1280, 720), quality=91)
        add_clips(place, 4, size=clip_bytes)
        return day
    return place / "day.toml"


def contest_of_sealing(folder: Path, day: Path, *options: str) -> Contest:
    output, bag = folder / "ours.zip", folder / "bag"

    def prepare() -> None:
        output.unlink(missing_ok=True)
        (folder / "theirs.zip").unlink(missing_ok=True)
        shutil.rmtree(bag, ignore_errors=True)
        # Hard links: bagit moves files about, the bytes stay where they are.
        shutil.copytree(
            day.parent / "export", bag, copy_function=lambda a, b: Path(b).hardlink_to(a)
        )
        subprocess.run(["sync"], check=True)

    return Contest(
        ours=sealing(folder, day, output, *options),
        theirs=[sys.executable, str(HERE / "peer_bag.py"), str(bag), str(folder / "theirs.zip")],
        prepare=prepare,
    )


def seal(folder: Path, rounds: int) -> None:
    contest = contest_of_sealing(folder, big_day(folder), "--no-pixel-proof")
    row("seal the 2.1 GB day", *alternate(contest, rounds=rounds))


def verify(folder: Path, rounds: int) -> None:
    bundle = folder / "verify.zip"
    bundle.unlink(missing_ok=True)
    run(sealing(folder, big_day(folder), bundle, "--no-pixel-proof"))
    contest = Contest(
        ours=[EVIDPACK, "verify", str(bundle), "--no-recheck",
              "--anchor", str(folder / "keys" / "authority.pem"), "--accept-claimed-time"],
        theirs=["openssl", "dgst", "-sha256", str(bundle)],
    )  # fmt: skip
    row("verify its bundle (--no-recheck)", *alternate(contest, rounds=rounds))


def small(folder: Path, rounds: int) -> None:
    place = folder / "small"
    if not place.exists():
        write_day(place, reference="BENCH-2", readings=1)
        add_small_files(place, 20_000, size=20_000)
    contest = contest_of_sealing(folder, place / "day.toml", "--no-pixel-proof")
    row("seal 20,000 small files", *alternate(contest, rounds=rounds))


def stills(folder: Path, rounds: int) -> None:
    place = folder / "stills"
    if not place.exists():
        add_stills(place, 400, size=(1920, 1080), quality=85)
    script = str(HERE / "stills.py")
    pictures = str(place / "export" / "stills")
    contest = Contest(
        ours=[sys.executable, script, "commit", pictures],
        theirs=[sys.executable, script, "decode", pictures],
    )
    row("commit to the tiles of 400 stills", *alternate(contest, rounds=rounds))


def check(folder: Path, rounds: int) -> None:
    place = folder / "readings"
    if not place.exists():
        write_day(place, reference="BENCH-3", readings=100_000)
    log = place / "export" / "readings.csv"
    contest = Contest(
        ours=[EVIDPACK, "check", str(place / "day.toml")],
        theirs=[sys.executable, "-c",
                f"import csv; print(sum(1 for _ in csv.reader(open({str(log)!r}, newline=''))))"],
        prepare=lambda: (place / "runs.jsonl").unlink(missing_ok=True),
    )  # fmt: skip
    row("check 100,000 readings", *alternate(contest, rounds=rounds))


def start(folder: Path, rounds: int) -> None:
    del folder
    contest = Contest(ours=[EVIDPACK, "--version"], theirs=[sys.executable, "-c", "import click"])
    row("evidpack --version", *alternate(contest, rounds=4 * rounds))


def memory(folder: Path, rounds: int) -> None:
    """Peak memory of seal and verify, by bytes and by entries; one run each."""
    del rounds
    print(
        "\n| day | seal, wall | seal, peak | verify, wall | verify, peak |\n|---|---|---|---|---|"
    )
    days = [
        (
            f"{size / 500_000_000 * 2:.1f} GB in clips",
            big_day(folder, clip_bytes=size, name=f"big{size}"),
        )
        for size in (50_000_000, 500_000_000)
    ]
    for readings in (1_000, 10_000, 100_000):
        place = folder / f"readings{readings}"
        if not place.exists():
            write_day(place, reference="BENCH-4", readings=readings)
        days.append((f"{readings} readings", place / "day.toml"))
    for name, day in days:
        bundle = folder / "memory.zip"
        bundle.unlink(missing_ok=True)
        sealed = run(sealing(folder, day, bundle, "--no-pixel-proof"))
        verified = run([EVIDPACK, "verify", str(bundle), "--no-recheck"])
        print(
            f"| {name} | {sealed.wall_s:.1f} s | {sealed.peak_mb:.0f} MB "
            f"| {verified.wall_s:.1f} s | {verified.peak_mb:.0f} MB |",
            flush=True,
        )


WORKS: dict[str, Callable[[Path, int], None]] = {
    "seal": seal,
    "verify": verify,
    "small": small,
    "stills": stills,
    "check": check,
    "start": start,
    "memory": memory,
}

if __name__ == "__main__":
    main()
