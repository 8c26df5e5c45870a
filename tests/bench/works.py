"""What is measured beside a peer, and what must be reached."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.bench.days_on_disk import EVIDPACK, Place
from tests.bench.measure import Contest, Cost, alternate, repeated, run
from tests.bench.packs import decided

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the table. `must` and `goal` are of the ratio of wall times, or, without a peer,
    seconds; None where nothing was set. `of_processor` says that they are of processor seconds."""

    work: str
    ours: Cost
    theirs: Cost | None = None
    must: float | None = None
    goal: float | None = None
    of_processor: bool = False

    @property
    def reached(self) -> float:
        """The figure that `must` and `goal` are about."""
        ours = self.ours.processor_s if self.of_processor else self.ours.wall_s
        if self.theirs is None:
            return ours
        return ours / (self.theirs.processor_s if self.of_processor else self.theirs.wall_s)


def _against_bag(place: Place, day: Path, command: list[str]) -> Contest:
    """Sealing against a bag, a stored ZIP of it and `sync` of the ZIP."""
    bag, theirs = place.folder / "bag", place.folder / "theirs.zip"

    def prepare() -> None:
        place.clear()
        # Hard links: bagit moves files about, and their bytes stay where they are.
        subprocess.run(["cp", "-al", str(day.parent / "export"), str(bag)], check=True)
        subprocess.run(["sync", "-f", str(place.folder)], check=True)

    peer = [sys.executable, str(HERE / "peer_bag.py"), str(bag), str(theirs)]
    return Contest(ours=command, theirs=peer, prepare=prepare)


def seal(place: Place, rounds: int) -> Iterator[Line]:
    day = place.big()
    command = place.sealing(day, place.folder / "ours.zip", "--no-pixel-proof")
    contest = _against_bag(place, day, command)
    ours, theirs = alternate(contest, rounds=rounds)
    yield Line(work="seal the 2.1 GB day", ours=ours, theirs=theirs, must=0.75, goal=0.5)
    yield Line(
        work="the same, processor seconds",
        ours=ours, theirs=theirs, must=1.0, goal=0.8, of_processor=True,
    )  # fmt: skip
    without = [sys.executable, str(HERE / "unverified.py"), *command[1:]]
    cost = repeated(without, rounds=rounds, prepare=contest.prepare)
    yield Line(work="the same, without its own verification", ours=cost, theirs=theirs)
    cost = repeated(
        place.sealing(day, place.folder / "ours.zip"), rounds=rounds, prepare=contest.prepare
    )
    yield Line(work="the same, with pixel proof", ours=cost, theirs=theirs)
    place.clear()


def verify(place: Place, rounds: int) -> Iterator[Line]:
    bundle = place.bundle(place.big(), "--no-pixel-proof")
    contest = Contest(
        ours=place.verifying(bundle), theirs=["openssl", "dgst", "-sha256", str(bundle)]
    )
    ours, theirs = alternate(contest, rounds=rounds)
    yield Line(work="verify its bundle, steps 1 to 7", ours=ours, theirs=theirs, must=1.1, goal=0.7)
    place.clear()


def small(place: Place, rounds: int) -> Iterator[Line]:
    day = place.small()
    command = place.sealing(day, place.folder / "ours.zip", "--no-pixel-proof")
    ours, theirs = alternate(_against_bag(place, day, command), rounds=rounds)
    yield Line(work="seal 20,000 files of 20 kB", ours=ours, theirs=theirs, must=1.0, goal=0.6)
    place.clear()


def stills(place: Place, rounds: int) -> Iterator[Line]:
    script, pictures = str(HERE / "stills.py"), str(place.full_hd())
    contest = Contest(
        ours=[sys.executable, script, "commit", pictures],
        theirs=[sys.executable, script, "decode", pictures],
    )
    ours, theirs = alternate(contest, rounds=rounds)
    yield Line(
        work="tile commitments of 400 stills of 1920 × 1080, decoding included",
        ours=ours, theirs=theirs, must=2.2, goal=1.8,
    )  # fmt: skip


def check(place: Place, rounds: int) -> Iterator[Line]:
    day = place.readings(100_000)
    log = str(day.parent / "export" / "readings.csv")
    contest = Contest(
        ours=[EVIDPACK, "check", str(day)],
        theirs=[sys.executable, "-c",
                f"import csv; print(sum(1 for _ in csv.reader(open({log!r}, newline=''))))"],
        prepare=lambda: (day.parent / "runs.jsonl").unlink(missing_ok=True),
    )  # fmt: skip
    # Code 3: the day is bare, so that some checks have nothing to go by.
    ours, theirs = alternate(contest, rounds=rounds, codes=(0, 1, 3))
    yield Line(work="check 100,000 readings", ours=ours, theirs=theirs, must=12, goal=6)


def index(place: Place, rounds: int) -> Iterator[Line]:
    command = [sys.executable, "-m", "tests.bench.index", "10000"]
    cost = repeated(command, rounds=rounds)
    yield Line(work="index PDF of 10,000 captures, pictures given", ours=cost, must=15, goal=6)
    stills = str(place.big().parent / "export" / "stills")
    cost = repeated([*command, stills], rounds=rounds)
    yield Line(work="the same, 10,000 stills of 300 kB decoded for it", ours=cost)


def pack(place: Place, rounds: int) -> Iterator[Line]:
    bundle = place.bundle(place.big())
    draft, decisions = place.folder / "draft.toml", place.folder / "decisions.toml"
    output, log = place.folder / "pack.zip", place.folder / "releases.jsonl"
    for path in (draft, decisions, output, log):
        path.unlink(missing_ok=True)
    run([EVIDPACK, "decide", str(bundle), "--capture", "C7", "-o", str(draft)])
    decisions.write_text(decided(draft.read_text(encoding="utf-8")), encoding="utf-8")

    def prepare() -> None:
        output.unlink(missing_ok=True)
        log.unlink(missing_ok=True)

    contest = Contest(
        ours=[EVIDPACK, "disclose", str(bundle), "--decisions", str(decisions), *place.signing,
              "-o", str(output)],
        theirs=place.verifying(bundle),
        prepare=prepare,
    )  # fmt: skip
    ours, theirs = alternate(contest, rounds=rounds)
    yield Line(
        work="pack for one capture of it, against verifying the bundle",
        ours=ours, theirs=theirs, must=0.5, goal=0.1,
    )  # fmt: skip
    place.clear()


def start(place: Place, rounds: int) -> Iterator[Line]:
    del place
    contest = Contest(ours=[EVIDPACK, "--version"], theirs=[sys.executable, "-c", "import click"])
    ours, theirs = alternate(contest, rounds=4 * rounds)
    yield Line(
        work="evidpack --version, against importing click",
        ours=ours, theirs=theirs, must=1.6, goal=1.2,
    )  # fmt: skip


WORKS: dict[str, Callable[[Place, int], Iterator[Line]]] = {
    "seal": seal,
    "verify": verify,
    "small": small,
    "stills": stills,
    "check": check,
    "index": index,
    "pack": pack,
    "start": start,
}
