"""What the checks find in the invented days: the blemishes that were put there, and no more."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from evidpack.demo.day import SEALED_AT
from evidpack.demo.plan import DISAGREEING
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import ItemKind
from evidpack.rules.built_in import built_in
from evidpack.sealing.gather import RuleFile, gather_day
from evidpack.sealing.order import Gathered

_SECOND = Path(__file__).parents[2] / "fixtures_invented" / "second" / "day.toml"
_SEALED_SECOND = datetime(2026, 3, 11, 17, tzinfo=UTC)
_SETS = ("general", "example_mph", "example_kmh")


def _gather(day: Path, rules: str, now: datetime) -> Gathered:
    return gather_day(day, RuleFile(data=built_in(rules), name=rules), now=now)


def _adverse(gathered: Gathered) -> list[Finding]:
    return [finding for finding in gathered.findings if finding.adverse]


@pytest.mark.parametrize("rules", _SETS)
def test_the_demonstration_day_has_one_query(demo_folder: Path, rules: str) -> None:
    gathered = _gather(demo_folder / "day.toml", rules, SEALED_AT)
    adverse = _adverse(gathered)
    assert [(one.check, one.outcome, one.subject) for one in adverse] == [
        ("10", "query", f"capture {DISAGREEING}")
    ]
    assert "pulse ranges" in adverse[0].sentence


def test_the_gap_in_the_numbers_is_seen_and_explained(demo_folder: Path) -> None:
    gathered = _gather(demo_folder / "day.toml", "general", SEALED_AT)
    said = [one.sentence for one in gathered.findings if one.check == "8"]
    assert any("explained" in sentence for sentence in said), said


@pytest.mark.parametrize("rules", _SETS)
def test_the_second_export_has_nothing_adverse(rules: str) -> None:
    assert _adverse(_gather(_SECOND, rules, _SEALED_SECOND)) == []


@pytest.mark.parametrize("which", ["first", "second"])
def test_everything_is_described_read_and_joined(demo_folder: Path, which: str) -> None:
    day, now = (demo_folder / "day.toml", SEALED_AT)
    if which == "second":
        day, now = _SECOND, _SEALED_SECOND
    intake = _gather(day, "general", now).intake
    assert [one.path for one in intake.items if one.kind is ItemKind.UNDESCRIBED] == []
    assert [one for one in intake.records if one.kind is RecordKind.UNREADABLE] == []
    pictures = [r for r in intake.records if r.kind in (RecordKind.STILL, RecordKind.CLIP)]
    assert {one.values["joined"] for one in pictures} == {"yes"}
