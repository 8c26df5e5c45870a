"""Faults of readings, of what reviewers saw and of geometry. Checks 10 and 12 to 14."""

from __future__ import annotations

import re

from tests.faulty.edits import both, rewrite, swap
from tests.faulty.fault import DAY, fault
from tests.faulty.second_day import UNIT, of_capture, reading

_STRIPS = "export/logs/data_strips.csv"
_READINGS = "export/logs/readings.csv"


def _shaken(found: re.Match[str]) -> str:
    """Pulse ranges of which each third is 0.66 m farther: too little to count as a reset."""
    ranges = [float(one.replace(",", ".")) for one in found[0].split("/")]
    return "/".join(
        f"{one + (0.66 if n % 3 == 0 else 0):.2f}".replace(".", ",") for n, one in enumerate(ranges)
    )


READINGS = (
    fault("below-minimum-range", "a reading is nearer than the approval allows",
          ("10", "fail", "capture 3"), ("73.7 m", "80 to 400 m"),
          swap(UNIT, "range_min_m = 25", "range_min_m = 80")),
    fault("beyond-maximum-range", "a reading is farther than the approval allows",
          ("10", "fail", "capture 4"), ("121.9 m", "25 to 115 m"),
          swap(UNIT, "range_max_m = 400", "range_max_m = 115")),
    fault("above-maximum-speed", "a reading is faster than the approval allows",
          ("10", "fail", "capture 4"), ("102 km/h", "100 km/h"),
          swap(UNIT, "speed_max_kmh = 250", "speed_max_kmh = 100")),
    fault("below-minimum-speed", "a reading is slower than the approval allows",
          ("10", "fail", "capture 3"), ("84 km/h", "85 km/h"),
          swap(UNIT, "speed_min_kmh = 20", "speed_min_kmh = 85")),
    fault("range-missing", "a reading has no range",
          ("10", "not determinable", "session A"), ("capture 2",),
          swap(reading(2), '"104,0"', '""')),
    fault("wrong-direction", "the pulses approach, the record says receding",
          ("10", "query", "capture 4"), ("approaching", "receding"),
          swap(reading(4), '"al ni"', '"for"')),
    fault("slope-disagrees", "the pulses do not give the speed shown",
          ("10", "query", "capture 5"), ("88.03 km/h", "95 km/h", "1.69 km/h"),
          both(swap(reading(5), '"88 km/h"', '"95 km/h"'),
               of_capture("data_strip", 5, "speed_kmh = 88", "speed_kmh = 95"))),
    fault("sawtooth", "the ranges jump in a sawtooth reset",
          ("10", "fail", "capture 1"), ("1.52 m", "0.76 m"),
          swap(reading(1), "92,18/91,89", "90,66/91,89")),
    fault("pulses-scatter", "the ranges scatter about their line",
          ("10", "query", "capture 3"), ("scatter by 0.33 m", "0.3 m are allowed"),
          rewrite(reading(3), r'(?<=distancoj": ")[^"]+', _shaken)),
    fault("pulses-short", "the pulses have one time fewer than ranges",
          ("10", "query", "capture 6"), ("don't belong together",),
          swap(reading(6), '"0/12/', '"12/')),
)  # fmt: skip

SECOND_SPEED = (
    fault("second-speed-disagrees", "the marks in two stills give another speed",
          ("12", "fail", "capture 22"), ("53.69", "reading of 89 mph", "35.31 mph apart", "1.42 is allowed"),
          swap(DAY, "distance_m = 19.9", "distance_m = 12.0"), base="demo"),
    fault("second-speed-doubtful", "the marks give a speed just beyond what is allowed",
          ("12", "query", "capture 22"), ("87.46", "1.54 mph apart", "1.4"),
          swap(DAY, "distance_m = 19.9", "distance_m = 19.55"), base="demo"),
    fault("marks-impossible", "the marks are no time apart",
          ("12", "query", "capture 22"), ("19.9 m in 0 s", "no speed"),
          swap(DAY, "interval_s = 0.5\ndistance_m = 19.9", "interval_s = 0\ndistance_m = 19.9"),
          base="demo"),
)  # fmt: skip

SEEN = (
    fault("two-vehicles", "two vehicles were in the beam",
          ("13", "query", "capture 3"), ("2 vehicles", "where 1 may be"),
          of_capture("review", 3, "vehicles = 1", "vehicles = 2")),
    fault("no-vehicle", "no vehicle is in the beam",
          ("13", "query", "capture 5"), ("0 vehicles", "where 1 may be"),
          of_capture("review", 5, "vehicles = 1", "vehicles = 0")),
    fault("off-target", "the cross-hair is not on the vehicle",
          ("13", "query", "capture 4"), ("off the vehicle",),
          of_capture("review", 4, "on_target = true", "on_target = false")),
    fault("view-shifted", "the camera's view shifted during the session",
          ("13", "query", ("capture 4", "capture 5", "capture 6")), ("off the vehicle",),
          both(*(of_capture("review", one, "on_target = true", "on_target = false")
                 for one in (4, 5, 6)))),
)  # fmt: skip

GEOMETRY = (
    fault("range-below-offset", "a range is shorter than the meter's distance from the road",
          ("14", "query", "capture 3"), ("73.7 m", "80 m", "1.4 m"),
          swap(UNIT, "offset_m = 3.2", "offset_m = 80.0")),
    fault("chain-broken", "two readings of one vehicle can't follow each other",
          ("14", "query", "captures 11–12"), ("15 m at 10.5 mph", "no vehicle could drive", "48.7 to 100.4 m"),
          both(rewrite(_READINGS, r"(?m)^(C012,(?:[^,]*,){6})([\d.]+)((?:,[^,]*){3},)([\d.;]+)",
                       lambda found: f"{found[1]}{float(found[2]) + 60:.1f}{found[3]}"
                       + ";".join(f"{float(one) + 60:.2f}" for one in found[4].split(";"))),
               rewrite(_STRIPS, r"(?m)^(C012[^,]*,[^,]*,)([\d.]+)",
                       lambda found: f"{found[1]}{float(found[2]) + 60:.1f}")),
          base="demo"),
)  # fmt: skip

MEASURING = (*READINGS, *SECOND_SPEED, *SEEN, *GEOMETRY)
