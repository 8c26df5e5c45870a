"""The days and the pack that faults are made in, each written once and checked once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from evidpack.model.findings import Finding
from evidpack.sealing.gather import Gathered, gather_day
from tests.disclosure.conftest import big_day, made, with_box
from tests.faulty.clean import CLEAN, built_in_rules
from tests.faulty.copies import WithBox
from tests.faulty.demo_day import write_clean_demo
from tests.faulty.fault import LATER, SECOND, Fault, write_base, write_faulty

__all__ = ["WithBox", "big_day", "made", "with_box"]  # fixtures of the room that makes packs

FaultyDay = Callable[[Fault], tuple[Finding, ...]]
CleanDay = Callable[[str], Gathered]


@pytest.fixture(scope="session")
def bases(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    demo = tmp_path_factory.mktemp("base") / "demo"
    write_clean_demo(demo)
    return {"second": SECOND, "demo": demo}


@pytest.fixture(scope="session")
def faulty_day(bases: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> FaultyDay:
    """What the checks say of a faulty day."""
    known: dict[str, tuple[Finding, ...]] = {}

    def said(one: Fault) -> tuple[Finding, ...]:
        if one.name not in known:
            folder = tmp_path_factory.mktemp("faulty") / "day"
            day = write_faulty(one, folder, bases[one.base])
            later = folder / LATER if (folder / LATER).is_dir() else None
            gathered = gather_day(day, built_in_rules(one.rules), now=one.now, later=later)
            known[one.name] = tuple(gathered.findings)
        return known[one.name]

    return said


@pytest.fixture(scope="session")
def clean_day(bases: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> CleanDay:
    """A clean day as gathered, by its name."""
    known: dict[str, Gathered] = {}

    def gathered(name: str) -> Gathered:
        if name not in known:
            one, folder = CLEAN[name], tmp_path_factory.mktemp("clean") / "day"
            day = write_base(folder, bases[one.base])
            one.edit(folder)
            known[name] = gather_day(day, built_in_rules(one.rules), now=one.now)
        return known[name]

    return gathered
