"""Days with nothing wrong, made by editing the bytes of an invented day as the faulty ones are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from evidpack.rules.built_in import built_in
from evidpack.sealing.gather import RuleFile
from tests.faulty.edits import Edit, add, both, copied, later, rewrite, swap
from tests.faulty.fault import DAY
from tests.faulty.moving import (
    AUTUMN,
    MIDNIGHT,
    SPRING,
    meter_keeps_utc,
    moved,
    valid_until_autumn,
)
from tests.faulty.second_day import ALL, EXIF_FORM, EXIF_TIME, UNIT, still

_NOTHING = both()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clean:
    """One clean day: its base, what is edited, the rule set and the time of the check."""

    base: str = "second"
    edit: Edit = _NOTHING
    rules: str = "general"
    now: datetime = datetime(2026, 12, 1, 12, tzinfo=UTC)


def built_in_rules(name: str) -> RuleFile:
    """A built-in rule set."""
    return RuleFile(data=built_in(name), name=name)


_REAR_CLOCK = "export/malantaue/horlogo.csv"
_REAR = """
[[clock]]
name = "malantaua"
zone = "Europe/Vienna"
resolution_s = 1

[[counter]]
name = "malantaua"
modulus = 100
first = 0

[[items]]
glob = "malantaue/*.jpg"
kind = "still"
clock = "malantaua"
counter = "malantaua"
name_pattern = '(?P<capture>K-\\d{4})_(?P<image_number>\\d{2})\\.jpg'

[[log]]
glob = "malantaue/horlogo.csv"
record = "clock_check"
format = "csv"
clock = "malantaua"
[log.fields]
clock = { value = "malantaua" }
time = { column = "Montris", format = "%Y-%m-%d %H:%M:%S" }
reference_time = { column = "Vera tempo", format = "%Y-%m-%d %H:%M:%S" }
"""


def second_camera() -> Edit:
    """A second camera looks at the rear of each vehicle: another body, clock, zone and counter."""

    def rear(number: int) -> Edit:
        path = f"export/malantaue/K-{number:04d}_{(number + 97) % 100:02d}.jpg"
        return copied(
            still(number),
            path,
            swap(path, "KL-9-004412", "RK-2-000310"),
            rewrite(path, r"[0-9a-f]{32}", lambda found: found[0][::-1]),
            later(path, EXIF_TIME, EXIF_FORM, 3600 + 1),
        )

    return both(
        add(
            _REAR_CLOCK,
            "Montris,Vera tempo\n2026-03-11 08:52:01,2026-03-11 08:52:00\n"
            "2026-03-11 10:57:01,2026-03-11 10:57:00\n",
        ),
        add(DAY, _REAR),
        *(rear(one) for one in ALL),
    )


CLEAN: dict[str, Clean] = {
    "km/h, general rules": Clean(),
    "km/h, rules with a deduction": Clean(rules="example_kmh"),
    "mph, general rules, two sites, a bridge, a clip": Clean(base="demo"),
    "mph, rules with a threshold": Clean(base="demo", rules="example_mph"),
    "over midnight": Clean(edit=moved(MIDNIGHT)),
    "night on which clocks go forward": Clean(edit=moved(SPRING)),
    "night on which clocks go back, the meter keeps UTC": Clean(
        edit=both(moved(AUTUMN, meter=UTC, reference=UTC), meter_keeps_utc(), valid_until_autumn())
    ),
    "from a bridge": Clean(edit=swap(UNIT, "height_m = 1.4", "height_m = 6.5")),
    "two cameras": Clean(edit=second_camera()),
    "last day of calibration": Clean(
        edit=both(swap(UNIT, "2025-09-30", "2025-03-11"), swap(UNIT, "2025-10-02", "2025-03-12"))
    ),
    "last day of the operator": Clean(edit=swap(UNIT, "2027-04-30", "2026-03-11")),
    "first day of the order": Clean(edit=swap(UNIT, "from = 1999-04-01", "from = 2026-03-11")),
    "first day of the site": Clean(edit=swap(UNIT, "2025-01-01", "2026-03-11")),
}
