"""Faults are collected, but not without end."""

from __future__ import annotations

import pytest

from evidpack.intake.faults import DescriptionFaultsError, Faults
from evidpack.limits import MAX_DESCRIPTION_FAULTS


def test_faults_are_raised_together_in_the_order_of_their_lines() -> None:
    faults = Faults()
    faults.add("second", path="day.toml", line=9, hint="h")
    faults.add("first", path="day.toml", line=2, hint="h")
    with pytest.raises(DescriptionFaultsError) as caught:
        faults.raise_any()
    assert [fault.message for fault in caught.value.faults] == ["first", "second"]
    assert caught.value.line == 2


def test_no_more_are_collected_than_anybody_would_read() -> None:
    faults = Faults()
    for number in range(MAX_DESCRIPTION_FAULTS - 1):
        faults.add("a fault", path="day.toml", line=number, hint="h")
    with pytest.raises(DescriptionFaultsError) as caught:
        faults.add("one more", path="day.toml", line=1_000_000, hint="h")
    assert len(caught.value.faults) == MAX_DESCRIPTION_FAULTS
    assert caught.value.faults[-1].message == "one more"
