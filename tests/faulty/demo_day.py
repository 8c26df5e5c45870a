"""The demonstration day with nothing wrong: its one query mended in the file."""

from __future__ import annotations

import re
from pathlib import Path

from evidpack.demo.day import write_demo_day
from tests.faulty.edits import rewrite

READINGS = "export/logs/readings.csv"
SHOWN_MPH, STORED_MPH = 99, 96.08  # what capture 29 shows, and what its pulses give as written


def write_clean_demo(folder: Path) -> None:
    """The demonstration day, the pulse ranges of capture 29 stretched to give the speed shown."""
    folder.mkdir()
    write_demo_day(folder, seed=1)
    rewrite(READINGS, r"(?m)^(C029,(?:[^,]*,){10})([^,]+)", _stretched)(folder)


def _stretched(found: re.Match[str]) -> str:
    ranges = [float(one) for one in found[2].split(";")]
    more = SHOWN_MPH / STORED_MPH
    return found[1] + ";".join(f"{ranges[0] + (one - ranges[0]) * more:.2f}" for one in ranges)
