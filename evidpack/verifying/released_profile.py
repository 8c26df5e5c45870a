"""The profile of a day from the office files that are at hand: all of them, or those released."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Final

from evidpack.intake.description import DAY_FILE, PROFILE_FILE, DayDescription, DayTable
from evidpack.intake.faults import Faults, TableReader
from evidpack.intake.profile import read_profile
from evidpack.intake.toml_lines import read_toml

# Where a profile may stand, in the order in which the day was read.
PROFILE_SOURCES: Final = (DAY_FILE, PROFILE_FILE)


def profile_description(files: Mapping[str, bytes]) -> DayDescription | None:
    """What `evidpack.intake.intake.normalise_cells` needs, from day.toml or profile.toml or both,
    by their sealed paths; None where neither is there or neither describes a log or an item.

    Only the profile in it means anything.  Raises DescriptionError where a file is wrong.
    """
    faults = Faults()
    tops = tuple(
        TableReader(toml, (), toml.values, faults)
        for toml in (read_toml(files[path], path=path) for path in PROFILE_SOURCES if path in files)
    )
    if not tops:
        return None
    profile = read_profile(tops)
    faults.raise_any()
    if not profile.tables:
        return None
    nothing = DayTable(
        reference="none",
        unit="",
        date=date.min,
        zone="UTC",
        export="",
        unit_folder=None,
        certificates=None,
    )
    return DayDescription(day=nothing, profile=profile, typed=())
