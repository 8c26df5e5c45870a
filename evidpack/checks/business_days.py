"""Business days and the dates of events."""

from __future__ import annotations

from collections.abc import Container
from datetime import date, timedelta
from functools import lru_cache

from evidpack.errors import DescriptionError


@lru_cache(maxsize=16)
def public_holidays(region: str) -> Container[date]:
    """The public holidays of a country or region such as ``GB-ENG`` (ISO 3166), by the package
    `holidays`, which is loaded only here. Raises DescriptionError for a region that it lacks.
    """
    import holidays

    country, _, subdivision = region.partition("-")
    try:
        found: Container[date] = holidays.country_holidays(country, subdiv=subdivision or None)
    except NotImplementedError as error:
        raise DescriptionError(
            f"no public holidays are known for {region!r}",
            hint='[values.holiday_country]\nvalue = "GB-ENG"',
        ) from error
    return found


def is_business_day(day: date, region: str | None) -> bool:
    """Neither Saturday nor Sunday nor a public holiday of the region."""
    return day.weekday() < 5 and (region is None or day not in public_holidays(region))


def business_days_after(start: date, count: int, region: str | None) -> date:
    """The `count`-th business day after `start`, which itself is not counted."""
    day = start
    while count > 0:
        if day == date.max:
            return day
        day += timedelta(days=1)
        if is_business_day(day, region):
            count -= 1
    return day
