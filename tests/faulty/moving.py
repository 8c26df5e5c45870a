"""The second day at another time: every clock shows what it would then have shown."""

from __future__ import annotations

import re
from datetime import UTC, datetime, tzinfo
from functools import cache
from importlib import resources
from pathlib import Path
from zoneinfo import ZoneInfo

from tests.faulty.edits import Edit, both, swap
from tests.faulty.fault import DAY
from tests.faulty.second_day import CAMERA_CLOCK, METER_CLOCK, UNIT

WAS = datetime(2026, 3, 11, 7, 55, tzinfo=UTC)  # when session A began
_DOTTED = (r"11\.03\.2026(?P<between>[ ;])(?P<time>\d\d:\d\d)", "%d.%m.%Y{between}%H:%M")
_EXIF = (r"2026:03:11(?P<between> )(?P<time>\d\d:\d\d)", "%Y:%m:%d{between}%H:%M")
_TYPED = re.compile(r"2026-03-11T(?P<time>\d\d:\d\d)(?P<rest>:\d\d(?:\.\d+)?)")


@cache
def vienna() -> ZoneInfo:
    """From the package tzdata, whatever the machine has."""
    path = resources.files("tzdata").joinpath("zoneinfo", "Europe", "Vienna")
    with path.open("rb") as stream:
        return ZoneInfo.from_file(stream, key="Europe/Vienna")


def moved(start: datetime, *, meter: tzinfo | None = None, reference: tzinfo | None = None) -> Edit:
    """Session A begins at `start` (aware, whole minutes), and all else as long before or after as it
    did. The meter's clock keeps the zone `meter`, and what clocks are compared with `reference`, else
    both that of the day; the camera keeps UTC. Typed times state their offset.
    """
    zone, true = meter or vienna(), reference or vienna()

    def edit(folder: Path) -> None:
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder).as_posix()
            if path.suffix == ".jpg":
                _recorded(path, "latin-1", _EXIF, lambda place: (UTC, UTC), start)
            elif name in (CAMERA_CLOCK, METER_CLOCK):  # each row: what it showed, the reference
                shown = (UTC, UTC) if name == CAMERA_CLOCK else (vienna(), zone)
                pairs = (shown, (vienna(), true))
                _recorded(path, "utf-16-le", _DOTTED, lambda place, p=pairs: p[place % 2], start)
            elif path.suffix in {".csv", ".json"}:
                encoding = "utf-16-le" if path.suffix == ".csv" else "utf-8"
                _recorded(path, encoding, _DOTTED, lambda place: (vienna(), zone), start)
        _described(folder / DAY, start)
        unit = (folder / UNIT).read_text(encoding="utf-8")
        day = start.astimezone(vienna()).date()
        (folder / UNIT).write_text(unit.replace("2026-03-11", f"{day}"), encoding="utf-8")

    return edit


def _recorded(path: Path, encoding: str, shape: tuple[str, str], zones, start: datetime) -> None:
    """Every stamp of a file later; `zones` says by its place in which zone it was and will be."""
    places = iter(range(10_000))
    pattern, form = shape

    def later(found: re.Match[str]) -> str:
        old, new = zones(next(places))
        then = _then(found["time"], old, start).astimezone(new)
        return then.strftime(form.format(between=found["between"]))

    text = path.read_bytes().decode(encoding)
    path.write_bytes(re.sub(pattern, later, text).encode(encoding))


def _described(path: Path, start: datetime) -> None:
    def later(found: re.Match[str]) -> str:
        then = _then(found["time"], vienna(), start).astimezone(vienna())
        offset = then.strftime("%z")
        return f"{then:%Y-%m-%dT%H:%M}{found['rest']}{offset[:3]}:{offset[3:]}"

    text = _TYPED.sub(later, path.read_text(encoding="utf-8"))
    day = start.astimezone(vienna()).date()
    path.write_text(text.replace("2026-03-11", f"{day}"), encoding="utf-8")


def _then(time: str, zone: tzinfo, start: datetime) -> datetime:
    hour, minute = map(int, time.split(":"))
    return datetime(2026, 3, 11, hour, minute, tzinfo=zone).astimezone(UTC) + (start - WAS)


def valid_until_autumn() -> Edit:
    """The calibration half a year later, so that it covers the autumn."""
    return both(swap(UNIT, "2025-09-30", "2026-06-30"), swap(UNIT, "2025-10-02", "2026-07-02"))


def meter_keeps_utc() -> Edit:
    """day.toml says that the meter's clock, and what clocks are compared with, keep UTC."""
    return both(
        swap(DAY, 'name = "aparato"\nzone = "Europe/Vienna"', 'name = "aparato"\nzone = "UTC"'),
        swap(DAY, '%f", zone = "Europe/Vienna" }', '%f", zone = "UTC" }'),
    )


SPRING = datetime(2026, 3, 29, 0, 10, tzinfo=UTC)  # clocks go forward at 01:00 UTC
AUTUMN = datetime(2026, 10, 25, 0, 10, tzinfo=UTC)  # clocks go back at 01:00 UTC
MIDNIGHT = datetime(2026, 3, 11, 21, 55, tzinfo=UTC)
