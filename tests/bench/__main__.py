"""Measure evidpack beside its peers; print the table, or write it into docs/performance.md.

    python -m tests.bench FOLDER [--rounds 5] [--only seal,verify,…] [--largest] [--write]

FOLDER is made, filled (about 9 GB, with --largest 55 GB) and kept, so that a second run is quicker.
Run it from the project's root, in the environment in which evidpack is installed, on a machine
that does nothing else.  --write wants everything measured.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.bench.days_on_disk import Place
from tests.bench.growth import by_bytes, by_files, by_readings, lines_of
from tests.bench.machine import described
from tests.bench.works import WORKS, Line

PAGE = Path("docs/performance.md")
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
GROWTH = "growth"


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--only", default=",".join((*WORKS, GROWTH)))
    parser.add_argument("--largest", action="store_true", help="also seal and verify 20 GB")
    parser.add_argument("--write", action="store_true", help=f"write into {PAGE}")
    arguments = parser.parse_args()
    only = arguments.only.split(",")
    if arguments.write and set(only) != {*WORKS, GROWTH}:
        parser.error("--write wants everything measured, so no --only")
    place = Place(arguments.folder.absolute())
    place.prepare()
    lines = []
    for line in measured(place, arguments.rounds, only, largest=arguments.largest):
        print(line, flush=True)
        lines.append(line)
    if arguments.write:
        write("\n".join(lines))


def measured(place: Place, rounds: int, only: list[str], *, largest: bool) -> Iterator[str]:
    """Everything that was asked for, as lines of Markdown."""
    yield f"{described(place.folder)} Medians of {rounds} runs, both sides in turn."
    yield ""
    yield (
        "| work | wall, ours | wall, peer | ratio | must | goal "
        "| processor, ours | processor, peer | peak, ours |"
    )
    yield "|---|---|---|---|---|---|---|---|---|"
    for name in only:
        if name != GROWTH:
            for line in WORKS[name](place, rounds):
                yield row(line)
    if GROWTH in only:
        few = max(1, rounds // 2)
        yield ""
        yield f"What each further GB or entry costs; medians of {few} runs."
        for growth in (
            by_bytes(place, few, largest=largest),
            by_readings(place, few),
            by_files(place, few),
        ):
            yield ""
            yield from lines_of(growth)


def row(line: Line) -> str:
    """One line of the table. A bound that was not kept is printed in bold."""
    ours, theirs = line.ours, line.theirs
    if theirs is None:
        reached, unit = f"{ours.wall_s:.2f} s", " s"
        peer = processor = "–"
    else:
        reached, unit = f"{line.reached:.2f}", ""
        peer, processor = f"{theirs.wall_s:.3f} s", f"{theirs.processor_s:.2f} s"
    bounds = []
    for bound in (line.must, line.goal):
        text = "–" if bound is None else f"≤ {bound:g}{unit}"
        bounds.append(f"**{text}**" if bound is not None and line.reached > bound else text)
    return (
        f"| {line.work} | {ours.wall_s:.3f} s | {peer} | {reached} | {bounds[0]} | {bounds[1]} "
        f"| {ours.processor_s:.2f} s | {processor} | {ours.peak_mb:.0f} MB |"
    )


def write(table: str) -> None:
    """Put the table between its marks."""
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    if not rest or not after:
        sys.exit(f"{PAGE} has no place for the table, between {BEGIN} and {END}")
    PAGE.write_text(f"{before}{BEGIN}\n{table}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
