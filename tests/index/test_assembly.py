"""What belongs to which capture."""

from __future__ import annotations

import pytest

from evidpack.checks.notes import captures_named
from evidpack.index.assembly import assemble
from tests.index.invented import content


@pytest.mark.parametrize(
    ("subject", "expected"),
    [
        ("capture 7", {7}),
        ("captures 1–3, 9", {1, 2, 3, 9}),
        ("captures 4-5 and the rest", {4, 5}),
        ("Capture 2; capture 4", {2, 4}),
        ("session 7", set()),
        ("recaptures 7", set()),
        ("captures 9–2", set()),
        ("captures 8–99999999999999", {8, 9, 10}),
    ],
)
def test_captures_are_found_by_the_numbers_in_a_subject(subject: str, expected: set[int]) -> None:
    assert captures_named(subject, 10) == expected


def test_a_finding_is_listed_with_the_capture_it_names_and_no_other() -> None:
    day = assemble(content(12))
    subjects = {n: [i.finding.subject for i in found] for n, found in day.findings_of.items()}
    assert subjects == {n: [f"capture {n}"] for n in range(1, 13)}


def test_each_capture_finds_its_own_reading() -> None:
    for capture in assemble(content(12)).captures:
        assert capture.reading is not None
        assert capture.reading.record.text("capture") == f"C{capture.number:04d}"
