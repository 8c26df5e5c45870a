"""Each faulty day has exactly the finding expected, about the item at fault, with its figures."""

from __future__ import annotations

import pytest

from evidpack.checks.registry import CHECKS
from evidpack.model.findings import Finding
from tests.faulty import table
from tests.faulty.conftest import FaultyDay
from tests.faulty.corpus import COURT, FAULTS
from tests.faulty.fault import Fault
from tests.faulty.later import TWICE_GOOD
from tests.faulty.packs import PACK_FAULTS


def adverse(found: tuple[Finding, ...]) -> list[Finding]:
    return [finding for finding in found if finding.adverse]


@pytest.mark.parametrize("one", FAULTS, ids=lambda one: one.name)
def test_a_faulty_day_has_exactly_the_finding_expected(one: Fault, faulty_day: FaultyDay) -> None:
    found = adverse(faulty_day(one))
    assert [(finding.check, finding.outcome.value, finding.subject) for finding in found] == [
        (one.check, one.outcome, subject) for subject in one.subjects
    ]
    for finding in found:
        for words in one.says:
            assert words in finding.sentence
        assert finding.advice
        assert finding.source
        assert finding.undermines


@pytest.mark.parametrize("one", TWICE_GOOD, ids=lambda one: one.name)
def test_what_comes_later_in_time_and_in_tolerance_is_not_adverse(
    one: Fault, faulty_day: FaultyDay
) -> None:
    assert adverse(faulty_day(one)) == []


def test_every_day_says_what_was_measured() -> None:
    assert [one.name for one in FAULTS if not one.says] == []


def test_there_are_forty_faults_and_more_with_names_of_their_own() -> None:
    names = [one.name for one in (*FAULTS, *PACK_FAULTS)]
    assert len(set(names)) == len(names) >= 40


def test_every_class_of_what_went_wrong_in_court_has_a_day_or_a_pack() -> None:
    names = {one.name for one in (*FAULTS, *PACK_FAULTS)}
    assert len(COURT) == 20
    assert {name for _, days in COURT for name in days} <= names
    assert all(days for _, days in COURT)


def test_every_check_that_can_be_adverse_has_a_faulty_day_or_pack() -> None:
    shown = {one.check for one in (*FAULTS, *PACK_FAULTS)}
    said_not_judged = {"16"}
    assert {one.number for one in CHECKS} - shown == said_not_judged


def test_the_tables_in_the_documentation_are_those_of_the_corpus() -> None:
    document = table.DOCUMENT.read_text(encoding="utf-8")
    assert table.in_document(document) == table.text()
