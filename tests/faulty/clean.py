"""Days with nothing wrong, made by editing the bytes of the second invented day."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from pathlib import Path

from evidpack.rules.built_in import built_in
from evidpack.sealing.gather import RuleFile
from tests.faulty.corpus import UNIT, Edit, both, swap

FORMS = (
    ("%d.%m.%Y", r"11\.03\.2026([ ;])(\d\d)(?=:)"),
    ("%Y-%m-%d", r"2026-03-11(T)(\d\d)(?=:)"),
    ("%Y:%m:%d", r"2026:03:11( )(\d\d)(?=:)"),
)


def moved(day: date, hours: int) -> Edit:
    """Every time in every file on another day and so many hours later."""

    def later(form: str, found: re.Match[str]) -> str:
        start = datetime(day.year, day.month, day.day, int(found[2]))
        return (start + timedelta(hours=hours)).strftime(f"{form}{found[1]}%H")

    def edit(folder: Path) -> None:
        for path in folder.rglob("*"):
            if path.suffix not in {".csv", ".json", ".jpg", ".toml"}:
                continue
            encoding = "utf-16-le" if path.suffix == ".csv" else "latin-1"
            text = path.read_bytes().decode(encoding)
            for form, pattern in FORMS:
                text = re.sub(pattern, lambda found, form=form: later(form, found), text)
            path.write_bytes(text.replace("2026-03-11", f"{day}").encode(encoding))

    return edit


def rules(name: str) -> RuleFile:
    """A built-in rule set."""
    return RuleFile(data=built_in(name), name=name)


CLEAN: dict[str, tuple[str, Edit]] = {
    "as it is": ("general", both()),
    "km/h rules": ("example_kmh", both()),
    "mph rules": ("example_mph", both()),
    "over midnight": ("general", moved(date(2026, 3, 11), 14)),
    "night of the clock change": ("general", moved(date(2026, 3, 28), 14)),
    "from a bridge": ("general", swap(UNIT, "height_m = 1.4", "height_m = 6.5")),
    "last day of calibration": (
        "general",
        both(swap(UNIT, "2025-09-30", "2025-03-11"), swap(UNIT, "2025-10-02", "2025-03-12")),
    ),
    "last day of the operator": ("general", swap(UNIT, "2027-04-30", "2026-03-11")),
    "first day of the order": ("general", swap(UNIT, "from = 1999-04-01", "from = 2026-03-11")),
    "first day of the site": ("general", swap(UNIT, "2025-01-01", "2026-03-11")),
}
