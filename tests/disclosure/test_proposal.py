"""What is proposed for the log of earlier runs and what they said."""

from __future__ import annotations

import pytest

from evidpack.disclosure.concern import Concern
from evidpack.disclosure.proposal import Proposal
from evidpack.disclosure.proposing import propose
from evidpack.disclosure.sealed_bundle import SealedEntry
from evidpack.model.values import JsonValue

OURS = Concern(numbers={7}, identifiers={"C007"}, sessions={"S1"})


def proposed(kind: str, **values: JsonValue) -> Proposal:
    entry = SealedEntry(number=3, kind=kind, values=values, key=bytes(32))
    return propose(entry, OURS, frozenset())


@pytest.mark.parametrize(
    "subject", ["capture 7", "captures 7–9", "day", "session S1", "clock camera"]
)
def test_what_an_earlier_run_said_of_the_case_is_marked_for_release(subject: str) -> None:
    found = proposed(
        "record", record_kind="past_finding", check="10", subject=subject, outcome="query"
    )
    assert (found.what, found.marked, found.undecided) == ("release", True, True)


def test_the_run_log_tells_of_everybodys_captures_and_is_withheld_as_mixed() -> None:
    found = proposed("file", item_kind="run_log", path="office/runs.jsonl")
    assert (found.what, found.reason) == ("withhold", "mixed")


def test_a_past_run_itself_says_counts_alone_and_may_be_released() -> None:
    found = proposed("record", record_kind="past_run", run=1, adverse=2)
    assert (found.what, found.marked) == ("release", False)
