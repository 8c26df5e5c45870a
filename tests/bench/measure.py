"""Timing whole processes: wall time, processor seconds and peak memory, alternating, medians."""

from __future__ import annotations

import os
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

# As installed: each module is compiled once and kept, not compiled again by every process.
_ENVIRONMENT = {
    name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one process, with its children, cost."""

    wall_s: float
    processor_s: float
    peak_mb: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contest:
    """Two things that do the same work. `prepare` is called before each run, untimed."""

    ours: Sequence[str]
    theirs: Sequence[str]
    prepare: Callable[[], None] = lambda: None


def run(command: Sequence[str]) -> Cost:
    """Run a command to its end. Raises RuntimeError where it fails (exit code 3 is a verdict)."""
    started = time.perf_counter()
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=_ENVIRONMENT
    )
    said = b"" if process.stderr is None else process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - started
    if process.stderr is not None:
        process.stderr.close()
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1, 3):
        raise RuntimeError(f"{command} ended with {process.returncode}: {said[-2000:].decode()}")
    return Cost(
        wall_s=wall_s,
        processor_s=usage.ru_utime + usage.ru_stime,
        peak_mb=usage.ru_maxrss / 1024,
    )


def medians(costs: Sequence[Cost]) -> Cost:
    """The median of each figure by itself."""
    return Cost(
        wall_s=statistics.median(cost.wall_s for cost in costs),
        processor_s=statistics.median(cost.processor_s for cost in costs),
        peak_mb=statistics.median(cost.peak_mb for cost in costs),
    )


def alternate(contest: Contest, *, rounds: int) -> tuple[Cost, Cost]:
    """Both sides in turn, so that the machine's moods fall on both; medians of each."""
    ours: list[Cost] = []
    theirs: list[Cost] = []
    for _ in range(rounds):
        contest.prepare()
        ours.append(run(contest.ours))
        contest.prepare()
        theirs.append(run(contest.theirs))
    return medians(ours), medians(theirs)
