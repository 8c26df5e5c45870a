"""Each check gives every answer that its documentation lists, and no other.

So a check that always says that it can't tell, or one that can't fail, does not slip in. The answers
come from the faulty and the clean days, from the copies in faulty packs (check 19), and from a few
days made up of records where no file can give them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pytest

from evidpack.checks.registry import CHECKS
from evidpack.disclosure.soundness import redaction_findings
from evidpack.model.findings import Finding, Outcome
from tests.faulty.clean import CLEAN
from tests.faulty.conftest import CleanDay, FaultyDay, WithBox
from tests.faulty.copies import about_copies, faulty_pack
from tests.faulty.corpus import FAULTS
from tests.faulty.later import TWICE_GOOD
from tests.faulty.outcomes import MADE_UP, documented, findings_of
from tests.faulty.packs import PACK_FAULTS

Given = Mapping[str, Mapping[Outcome, str]]  # check → outcome → who gives it


@pytest.fixture(scope="module")
def given(faulty_day: FaultyDay, clean_day: CleanDay, with_box: WithBox) -> Given:
    found: dict[str, dict[Outcome, str]] = {one.number: {} for one in CHECKS}

    def take(source: str, findings: Iterable[Finding]) -> None:
        for one in findings:
            found[one.check].setdefault(one.outcome, source)

    for fault in (*FAULTS, *TWICE_GOOD):
        take(fault.name, faulty_day(fault))
    for name in CLEAN:
        take(name, clean_day(name).findings)
    take("a pack without copies", redaction_findings(()))
    take("a sound pack", about_copies(faulty_pack(None, with_box)[0]))
    for fault in PACK_FAULTS:
        if fault.copy is not None:
            take(fault.name, about_copies(faulty_pack(fault, with_box)[0]))
    for name in MADE_UP:
        take(name, findings_of(name))
    return found


@pytest.mark.parametrize("number", [one.number for one in CHECKS])
def test_a_check_gives_the_answers_that_are_documented_and_no_others(
    number: str, given: Given
) -> None:
    assert {one.value for one in given[number]} == {one.value for one in documented(number)}


def test_every_check_but_the_one_that_only_says_can_be_adverse() -> None:
    tame = {
        one.number for one in CHECKS if not {Outcome.QUERY, Outcome.FAIL} & documented(one.number)
    }
    assert tame == {"16"}


def test_every_check_can_pass() -> None:
    assert all(Outcome.PASS in documented(one.number) for one in CHECKS)


def test_most_answers_come_from_files(given: Given) -> None:
    made_up = {
        (number, outcome.value)
        for number, outcomes in given.items()
        for outcome, source in outcomes.items()
        if source in MADE_UP and outcome is not Outcome.NOT_APPLICABLE
    }
    assert made_up == {
        ("9", "not determinable"),
        ("13", "not determinable"),
        ("20", "not determinable"),
    }


@pytest.mark.parametrize("name", MADE_UP)
def test_every_check_says_something_whatever_is_missing(name: str) -> None:
    assert {one.check for one in findings_of(name)} == {one.number for one in CHECKS}
