"""What sealing and verifying cost as the day grows: three sizes in bytes, three in entries."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.bench.days_on_disk import Place
from tests.bench.measure import Cost, repeated

ENTRIES = (1_000, 10_000, 100_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One day of a row of growing days. `amount` counts GB or entries, as the row says."""

    day: str
    amount: float
    sealed: Cost
    verified: Cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """A row of days, and what each further GB or entry cost."""

    title: str
    unit: str
    steps: Sequence[Step]


def by_bytes(place: Place, rounds: int, *, largest: bool) -> Growth:
    """0.2 and 2 GB in clips, and 20 GB where the disk has 45 GB to spare and it was asked for."""
    clips = [50_000_000, 500_000_000, *([5_000_000_000] if largest else [])]
    return Growth(
        title="by bytes: 400 stills and four clips",
        unit="GB",
        steps=[_measured(place, place.big(clip_bytes=size), rounds, in_gb=True) for size in clips],
    )


def by_readings(place: Place, rounds: int) -> Growth:
    """A log of so many readings: each gives an entry, and so does each capture."""
    return Growth(
        title="by entries: a log of 1,000, 10,000 and 100,000 readings",
        unit="entry",
        steps=[_measured(place, place.readings(count), rounds, in_gb=False) for count in ENTRIES],
    )


def by_files(place: Place, rounds: int) -> Growth:
    """So many files of 1 kB."""
    return Growth(
        title="by entries: 1,000, 10,000 and 100,000 files of 1 kB",
        unit="entry",
        steps=[
            _measured(place, place.small(count=count, size=1_000), rounds, in_gb=False)
            for count in ENTRIES
        ],
    )


def _measured(place: Place, day: Path, rounds: int, *, in_gb: bool) -> Step:
    bundle = place.folder / "grown.zip"
    sealed = repeated(
        place.sealing(day, bundle, "--no-pixel-proof"),
        rounds=rounds,
        prepare=lambda: bundle.unlink(missing_ok=True),
    )
    verified = repeated(place.verifying(bundle), rounds=rounds)
    size_gb = bundle.stat().st_size / 1e9
    entries = _entries(bundle)
    bundle.unlink()
    return Step(
        day=f"{size_gb:.1f} GB" if in_gb else f"{entries:,} entries",
        amount=size_gb if in_gb else entries,
        sealed=sealed,
        verified=verified,
    )


def _entries(bundle: Path) -> int:
    with zipfile.ZipFile(bundle) as archive:
        [name] = [name for name in archive.namelist() if name.endswith("/seal/statement.json")]
        statement = json.loads(archive.read(name))
    return sum(statement["entries"].values())


def lines_of(growth: Growth) -> Iterator[str]:
    """The table of one row of days, and what was added from each day to the next."""
    yield f"**{growth.title}**"
    yield ""
    yield "| day | seal, wall | seal, processor | seal, peak | verify, wall | verify, processor | verify, peak |"
    yield "|---|---|---|---|---|---|---|"
    for step in growth.steps:
        costs = " | ".join(
            f"{cost.wall_s:.2f} s | {cost.processor_s:.2f} s | {cost.peak_mb:.0f} MB"
            for cost in (step.sealed, step.verified)
        )
        yield f"| {step.day} | {costs} |"
    for before, after in zip(growth.steps, growth.steps[1:], strict=False):
        costs = " | ".join(
            _added(
                getattr(before, side), getattr(after, side), after.amount - before.amount, growth
            )
            for side in ("sealed", "verified")
        )
        yield f"| each {growth.unit} from {before.day} to {after.day} | {costs} |"


def _added(before: Cost, after: Cost, amount: float, growth: Growth) -> str:
    """What one GB or one entry more cost: seconds or microseconds, megabytes or kilobytes."""
    by_gb = growth.unit == "GB"
    seconds, size = (1, "s"), (1, "MB")
    if not by_gb:
        seconds, size = (1e6, "µs"), (1e3, "kB")
    factor, unit = seconds
    wall = (after.wall_s - before.wall_s) / amount * factor
    processor = (after.processor_s - before.processor_s) / amount * factor
    peak = (after.peak_mb - before.peak_mb) / amount * size[0]
    digits = 2 if by_gb else 0
    return f"{wall:.{digits}f} {unit} | {processor:.{digits}f} {unit} | {peak:.2f} {size[1]}"
