"""The numbers behind a check, line by line, for `explain`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from evidpack.checks import workings_images as images
from evidpack.checks import workings_papers as papers
from evidpack.checks import workings_readings as readings
from evidpack.checks import workings_times as times
from evidpack.checks.look import Look

MAX_LINES: Final = 200

WORKINGS: Final[dict[str, Callable[[Look], Iterator[str]]]] = {
    "1": papers.serials,
    "2": papers.calibrations,
    "2b": papers.tolerances,
    "2c": papers.later_tolerances,
    "3": papers.people,
    "4": times.bracket,
    "5": times.distances,
    "6": times.clocks,
    "7": times.sequence,
    "8": images.image_counters,
    "9": images.clips,
    "10": readings.slopes,
    "11": images.stills,
    "12": readings.second,
    "13": images.reviews,
    "14": readings.cosines,
    "15": papers.positions,
    "16": readings.thresholds,
    "20": papers.events,
}
