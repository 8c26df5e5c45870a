"""Timing whole processes: wall time, processor seconds and peak memory, alternating, medians."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

_LAUNCH = Path(__file__).with_name("launch.py")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one process, with its children, cost. Peak memory is the system's: the largest resident
    set of the process or of any of its children, in units of 1,000,000 bytes."""

    wall_s: float
    processor_s: float
    peak_mb: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contest:
    """Two things that do the same work. `prepare` is called before each run, untimed."""

    ours: Sequence[str]
    theirs: Sequence[str]
    prepare: Callable[[], None] = lambda: None


def run(command: Sequence[str], *, codes: Sequence[int] = (0,)) -> Cost:
    """Run a command to its end. Raises RuntimeError where it ends with another code."""
    with tempfile.NamedTemporaryFile() as told:
        process = subprocess.run(
            [sys.executable, "-S", "-E", str(_LAUNCH), told.name, *command],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            check=False,
        )
        line = told.read()
    found = json.loads(line) if line else {"code": process.returncode}
    if found["code"] not in codes:
        said = process.stderr[-2000:].decode(errors="replace")
        raise RuntimeError(f"{list(command)} ended with {found['code']}: {said}")
    return Cost(
        wall_s=found["wall_s"],
        processor_s=found["processor_s"],
        peak_mb=found["peak_kib"] * 1024 / 1e6,
    )


def medians(costs: Sequence[Cost]) -> Cost:
    """The median of each figure by itself."""
    return Cost(
        wall_s=statistics.median(cost.wall_s for cost in costs),
        processor_s=statistics.median(cost.processor_s for cost in costs),
        peak_mb=statistics.median(cost.peak_mb for cost in costs),
    )


def repeated(
    command: Sequence[str],
    *,
    rounds: int,
    prepare: Callable[[], None] = lambda: None,
    codes: Sequence[int] = (0,),
) -> Cost:
    """The medians of one command's runs."""
    costs = []
    for _ in range(rounds):
        prepare()
        costs.append(run(command, codes=codes))
    return medians(costs)


def alternate(contest: Contest, *, rounds: int, codes: Sequence[int] = (0,)) -> tuple[Cost, Cost]:
    """Both sides in turn, so that the machine's moods fall on both; medians of each."""
    ours: list[Cost] = []
    theirs: list[Cost] = []
    for _ in range(rounds):
        contest.prepare()
        ours.append(run(contest.ours, codes=codes))
        contest.prepare()
        theirs.append(run(contest.theirs))
    return medians(ours), medians(theirs)
