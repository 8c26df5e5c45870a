"""Each faulty day has exactly the finding expected, each clean day none."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from evidpack.sealing.gather import RuleFile, gather_day, rule_file
from tests.faulty import table
from tests.faulty.clean import CLEAN, rules
from tests.faulty.corpus import FAULTS, Fault, write_base, write_faulty

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)


def adverse(day: Path, with_rules: RuleFile) -> list[tuple[str, str]]:
    found = gather_day(day, with_rules, now=NOW).findings
    return [(one.check, one.outcome.value) for one in found if one.adverse]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda one: one.name)
def test_a_faulty_day_has_exactly_the_finding_expected(fault: Fault, tmp_path: Path) -> None:
    day = write_faulty(fault, tmp_path / "day")
    assert adverse(day, rule_file(None)) == [(fault.check, fault.outcome)]


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_day_has_nothing_adverse(name: str, tmp_path: Path) -> None:
    rule_set, edit = CLEAN[name]
    day = write_base(tmp_path / "day")
    edit(tmp_path / "day")
    assert adverse(day, rules(rule_set)) == []


def test_there_are_forty_faults_with_names_of_their_own() -> None:
    assert len({one.name for one in FAULTS}) == len(FAULTS) >= 40


def test_the_table_in_the_documentation_is_the_one_of_the_corpus() -> None:
    assert table.in_document(table.DOCUMENT.read_text(encoding="utf-8")) == table.text()
