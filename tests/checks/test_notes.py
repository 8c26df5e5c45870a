from __future__ import annotations

import pytest

from evidpack.checks.notes import Notes, captures_named, note_line
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record
from tests.checks.days import capture, record


def note(subject: str | None, text: str = "Explained.") -> Record:
    values = {"by": "B. Nobody", "time": "2026-05-14T17:00:00+01:00", "text": text}
    more = {} if subject is None else {"subject": subject}
    return record(RecordKind.NOTE, "office/notes.toml", 1, **values, **more)


def finding(subject: str, *, check: str = "10", outcome: Outcome = Outcome.QUERY) -> Finding:
    return Finding(
        check=check, check_version=1, subject=subject, outcome=outcome, sentence="It does not fit.",
        adverse=True,
    )  # fmt: skip


def is_beside(subject: str | None, found: Finding) -> bool:
    notes = Notes([note(subject)], [capture(7), capture(8)])
    beside, elsewhere = notes.beside(found), notes.elsewhere([found])
    assert len(beside) + len(elsewhere) == 1  # a note is never lost
    return bool(beside)


@pytest.mark.parametrize(
    ("subject", "examined"),
    [
        ("check 10", "capture 7"),
        ("capture 7", "capture 7"),
        ("check 10, capture 7", "capture 7"),
        ("Check 10 :  Capture  7", "capture 7"),
        ("C007", "capture 7"),
        ("c007", "capture 7"),
        ("check 10, C007", "capture 7"),
        ("check 10, capture 7", "captures 1–9, 12"),
        ("check 10", "session S1"),
        ("session S1", "session S1"),
        ("clock camera", "clock camera"),
    ],
)
def test_a_note_stands_beside_the_finding_that_it_names(subject: str, examined: str) -> None:
    assert is_beside(subject, finding(examined))


@pytest.mark.parametrize(
    ("subject", "examined"),
    [
        ("check 1", "capture 7"),
        ("check 2b", "capture 7"),
        ("capture 8", "capture 7"),
        ("C008", "capture 7"),
        ("C070", "capture 70"),  # no capture has this identifier
        ("check 10, capture 8", "capture 7"),
        ("capture 7", "captures 1–9"),  # a note about one capture alone is not about them all
        ("check 10, capture 13", "captures 1–9, 12"),
        ("session S", "session S1"),
        ("", "capture 7"),
        (None, "capture 7"),
        ("check", "capture 7"),
    ],
)
def test_a_note_stands_beside_no_other_finding(subject: str | None, examined: str) -> None:
    assert not is_beside(subject, finding(examined))


@pytest.mark.parametrize("outcome", [Outcome.PASS, Outcome.NOT_APPLICABLE])
def test_a_note_about_what_needs_no_explanation_is_listed_apart(outcome: Outcome) -> None:
    assert not is_beside("check 10", finding("capture 7", outcome=outcome))


def test_checks_with_letters_are_told_apart() -> None:
    assert is_beside("check 2B", finding("certificate X", check="2b"))
    assert not is_beside("check 2", finding("certificate X", check="2b"))


def test_a_huge_number_names_no_capture() -> None:
    assert not is_beside("check 10, capture 99999999999999999999", finding("captures 1–9"))
    assert captures_named("captures 1–99999999999", 3) == {1, 2, 3}


def test_a_note_is_shown_with_who_and_when() -> None:
    assert note_line(note("check 4")) == "Note by B. Nobody, 2026-05-14 17:00: Explained."
