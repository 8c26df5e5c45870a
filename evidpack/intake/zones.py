"""Local times to instants, by the time-zone data of the `tzdata` package alone.

The machine's own zone files are never asked: a bundle must read the same on every machine, and
the seal statement names the version of `tzdata`.  A local time that is ambiguous or does not
exist is kept as such (PEP 495: fold 0 is the earlier instant, fold 1 the later).
"""

from __future__ import annotations

import io
import pkgutil
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

from evidpack.model.stamps import Stamp, StampStatus

_NAME: Final = re.compile(r"[A-Za-z][A-Za-z0-9_+-]*(?:/[A-Za-z0-9_+-]+){0,3}")
_OFFSET: Final = re.compile(r"([+-])(\d{2}):(\d{2})")
_CACHED_HOURS: Final = 4_096
_HOUR_END: Final = timedelta(minutes=59, seconds=59, microseconds=999_999)

ToStamp = Callable[[datetime], Stamp]


class UnknownZoneError(ValueError):
    """A name that is no zone of the `tzdata` package, no ``UTC`` and no fixed offset."""


@lru_cache(maxsize=256)
def load_zone(name: str) -> tzinfo | None:
    """The zone of an IANA name, ``UTC`` or ``+01:00``; None for an empty name (not known).

    Raises UnknownZoneError.
    """
    if name == "":
        return None
    if name in {"UTC", "Z"}:
        return UTC
    fixed = _OFFSET.fullmatch(name)
    if fixed:
        return fixed_offset(fixed[1], int(fixed[2]), int(fixed[3]))
    if not _NAME.fullmatch(name):
        raise UnknownZoneError(name)
    try:
        data = pkgutil.get_data("tzdata", f"zoneinfo/{name}")
        return ZoneInfo.from_file(io.BytesIO(data or b""), key=name)
    except (OSError, ValueError, ModuleNotFoundError) as error:
        raise UnknownZoneError(name) from error


def fixed_offset(sign: str, hours: int, minutes: int) -> tzinfo:
    """A fixed offset; zero is UTC. Raises UnknownZoneError beyond ±23:59."""
    if hours > 23 or minutes > 59:
        raise UnknownZoneError(f"{sign}{hours:02d}:{minutes:02d}")
    offset = timedelta(hours=hours, minutes=minutes)
    return timezone(-offset if sign == "-" else offset) if offset else UTC


def resolve(local: datetime, zone: tzinfo | None) -> Stamp:
    """What a naive local time in a zone means. `zone` None: nothing can be said."""
    if zone is None:
        return Stamp(local=local, status=StampStatus.NO_ZONE, instants=())
    earlier = local.replace(tzinfo=zone, fold=0)
    later = local.replace(tzinfo=zone, fold=1)
    before, after = earlier.utcoffset(), later.utcoffset()
    if before is None or after is None or before == after:
        return _at(local, before or timedelta(0))
    if before < after:  # the clock jumped forward over this time
        return Stamp(local=local, status=StampStatus.NONEXISTENT, instants=())
    return Stamp(
        local=local,
        status=StampStatus.AMBIGUOUS,
        instants=(_fixed(local, before), _fixed(local, after)),
    )


def stamper(zone: tzinfo | None) -> ToStamp:
    """A quick `resolve` for many times in one zone.

    The offset of an hour is remembered where the first and the last instant of that hour are both
    determined and have the same offset: a change of offset inside it would leave them different.
    """
    if zone is None or not isinstance(zone, ZoneInfo):
        return lambda local: resolve(local, zone)
    known: dict[tuple[int, int, int, int], timedelta | None] = {}

    def quick(local: datetime) -> Stamp:
        hour = (local.year, local.month, local.day, local.hour)
        if hour not in known:
            if len(known) >= _CACHED_HOURS:
                known.clear()
            known[hour] = _steady_offset(local, zone)
        offset = known[hour]
        return resolve(local, zone) if offset is None else _at(local, offset)

    return quick


def _steady_offset(local: datetime, zone: tzinfo) -> timedelta | None:
    start = local.replace(minute=0, second=0, microsecond=0, fold=0)
    first, last = resolve(start, zone).determined, resolve(start + _HOUR_END, zone).determined
    if first is None or last is None or first.utcoffset() != last.utcoffset():
        return None
    return first.utcoffset()


@lru_cache(maxsize=512)
def _timezone(offset: timedelta) -> timezone:
    return timezone(offset) if offset else UTC


def _fixed(local: datetime, offset: timedelta) -> datetime:
    return local.replace(tzinfo=_timezone(offset), fold=0)


def _at(local: datetime, offset: timedelta) -> Stamp:
    return Stamp(
        local=local.replace(fold=0),
        status=StampStatus.DETERMINED,
        instants=(_fixed(local, offset),),
    )
