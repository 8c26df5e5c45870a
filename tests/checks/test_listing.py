"""Check 18: everything listed; what was discarded; earlier runs."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from evidpack.checks.undermining import discarded_beside
from evidpack.model.day import Day
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Item, ItemKind, Source
from evidpack.model.values import JsonValue
from tests.checks.days import (
    GENERAL,
    Record,
    change,
    clean_day,
    clean_records,
    day_of,
    drop,
    findings,
    is_a,
    only,
    reading,
    record,
    run_checks,
)


def with_items(*kinds: ItemKind) -> Day:
    items = tuple(
        Item(
            path=f"export/f{n}",
            kind=kind,
            origin="export",
            size=1,
            modified=datetime(2026, 5, 14, tzinfo=UTC),
        )
        for n, kind in enumerate(kinds)
    )
    items += (replace(items[0], path="export/report.pdf", kind=ItemKind.REPORT),)
    return replace(clean_day(1), items=items)


def test_described_files_pass_and_undescribed_ones_are_a_query() -> None:
    passed = findings("18", with_items(ItemKind.STILL, ItemKind.LOG))
    assert {one.outcome for one in passed} == {Outcome.PASS}
    found = only(findings("18", with_items(ItemKind.STILL, ItemKind.UNDESCRIBED)), Outcome.QUERY)
    assert "1 of 3 files of the export is not described: export/f1" in found.sentence


@pytest.mark.parametrize(
    ("state", "outcome", "words"),
    [
        ("unmatched", Outcome.QUERY, "1 still belongs to no reading"),
        ("doubly matched", Outcome.QUERY, "1 still fits more than one reading"),
        ("not declared", Outcome.NOT_DETERMINABLE, "How 1 still belong"),
    ],
)
def test_stills_that_are_not_joined_to_one_reading(
    state: str, outcome: Outcome, words: str
) -> None:
    records = change(clean_records(2), is_a(RecordKind.STILL, capture="C001"), joined=state)
    found = only(findings("18", records), outcome)
    assert words in found.sentence


@pytest.mark.parametrize(
    ("stated", "outcome"), [(3, Outcome.PASS), (2, Outcome.FAIL), (4, Outcome.FAIL)]
)
def test_the_reports_count(stated: int, outcome: Outcome) -> None:
    records = change(clean_records(3), is_a(RecordKind.REPORT), captures=stated)
    found = only([one for one in findings("18", records) if "report" in one.subject], outcome)
    assert (found.measured, found.limit) == (3, stated)


def test_a_report_that_leaves_out_what_was_discarded_is_a_query() -> None:
    records = change(clean_records(3), is_a(RecordKind.READING, capture="C003"), discarded=True)
    records = change(records, is_a(RecordKind.REPORT), captures=2)
    assert (
        "leaves out 1 that were discarded" in only(findings("18", records), Outcome.QUERY).sentence
    )


def unreadable(line: int | None) -> Record:
    values: dict[str, JsonValue] = {
        "file": "export/logs/readings.csv",
        "line": line,
        "reason": "7 cells where 9 are due",
        "record": "reading",
    }
    return record(RecordKind.UNREADABLE, "export/logs/readings.csv", line, **values)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([4], "Line 4 of export/logs/readings.csv could not be read"),
        ([4, 5, 9], "3 lines (4–5, 9)"),
        ([None], "export/logs/readings.csv could not be read: 7 cells"),
    ],
)
def test_rows_that_could_not_be_read_are_named(lines: list[int | None], words: str) -> None:
    found = only(findings("18", [*clean_records(1), *map(unreadable, lines)]), Outcome.QUERY)
    assert words in found.sentence


def test_one_row_twice_is_told_as_that_and_its_still_is_not_told_again() -> None:
    first = reading(1, "10:00:05", capture="C001")
    row = {"Ref": "C001", "Speed": "71"}
    copies = [replace(first, raw=row), replace(first, raw=row, source=Source(path="x.csv", line=9))]
    day = [*drop(clean_records(1), is_a(RecordKind.READING)), *copies]
    day = drop(day, is_a(RecordKind.REPORT))
    day = change(day, is_a(RecordKind.STILL), joined="doubly matched", captures=[1, 2])
    found = only(findings("18", day), Outcome.QUERY)
    assert found.sentence == "Captures 1–2 are one row, more than once."
    still = only(findings("18", day), Outcome.NOT_DETERMINABLE)
    assert "1 still fits more than one reading" in still.sentence
    assert not still.adverse


def test_an_identifier_that_two_readings_bear_is_a_query() -> None:
    records = change(clean_records(3), is_a(RecordKind.READING, capture="C003"), capture="C002")
    found = only(findings("18", records), Outcome.QUERY)
    assert (found.subject, found.sentence) == ("captures 2–3", "Captures 2–3 bear one identifier.")


def unread_reading(identifier: str) -> Record:
    made = record(
        RecordKind.UNREADABLE, "export/logs/readings.csv", 9, file="export/logs/readings.csv",
        line=9, reason="range: '1,5' is not a number", record="reading",
    )  # fmt: skip
    return replace(made, raw={"Ref": f" {identifier} ", "Range m": "1,5"})


def test_what_an_unreadable_row_explains_is_not_adverse_twice() -> None:
    records = drop(clean_records(3), is_a(RecordKind.READING, capture="C003"))
    records = drop(records, is_a(RecordKind.CAPTURE, capture="C003"))
    records = change(
        records, is_a(RecordKind.STILL, capture="C003"), joined="unmatched", captures=[]
    )
    found = findings("18", [*records, unread_reading("C003")])
    assert "Line 9 of export/logs/readings.csv" in only(found, Outcome.QUERY).sentence
    told = [one.sentence for one in found if one.outcome is Outcome.NOT_DETERMINABLE]
    assert "The report counts 3 captures of session S1; the export holds 2, and 1 row" in told[1]
    assert "1 still bears the identifier of a reading that could not be read" in told[0]
    other = findings("18", [*records, unread_reading("C777")])
    assert "1 still belongs to no reading" in "".join(
        one.sentence for one in other if one.outcome is Outcome.QUERY
    )


def test_unreadable_rows_do_not_explain_more_captures_than_there_are_rows() -> None:
    records = change(clean_records(2), is_a(RecordKind.REPORT), captures=4)
    found = only(findings("18", [*records, unread_reading("C003")]), Outcome.FAIL)
    assert "counts 4 captures of session S1, but the export holds 2" in found.sentence


def past_run(number: int, adverse: int, chain: str = "holds") -> Record:
    return record(
        RecordKind.PAST_RUN, "office/runs.jsonl", number, run=number, adverse=adverse, chain=chain
    )


def test_an_earlier_run_with_adverse_findings_is_to_be_considered_but_not_adverse() -> None:
    found = [
        one
        for one in findings("18", [*clean_records(1), past_run(1, 2), past_run(2, 0)])
        if one.subject == "run log"
    ]
    assert [(one.outcome, one.undermines, one.adverse) for one in found] == [
        (Outcome.PASS, True, False)
    ]
    assert "(run 1); superseded by this one" in found[0].sentence


def past_finding(
    sentence: str, *runs: int, check: str = "10", subject: str = "capture 1"
) -> Record:
    return record(
        RecordKind.PAST_FINDING, "office/runs.jsonl", runs[0], check=check, subject=subject,
        outcome="query", sentence=sentence, runs=[*runs],
    )  # fmt: skip


def gone(records: list[Record], *, later: bool = False) -> list[Finding]:
    return [
        one
        for one in run_checks(day_of(records), GENERAL, later=later)
        if one.check == "18" and one.sentence.startswith("Superseded")
    ]


def test_what_an_earlier_run_said_and_this_one_does_not_is_said_again_and_marked() -> None:
    (found,) = gone([*clean_records(1), past_finding("The pulses do not fit.", 1, 2, 4)])
    assert found.sentence == (
        "Superseded: check 10 said in runs 1–2, 4 (query): “The pulses do not fit.”; this run does "
        "not say so any more. To be considered for disclosure."
    )
    assert (found.subject, found.measured, found.unit) == ("capture 1", 3, "runs")
    assert (found.outcome, found.undermines, found.adverse) == (Outcome.PASS, True, False)


def test_what_is_still_said_is_not_superseded() -> None:
    records = change(clean_records(2), is_a(RecordKind.READING, capture="C001"), range_m=1200)
    now = [one for one in run_checks(day_of(records), GENERAL) if one.adverse]
    kept = [
        record(RecordKind.PAST_FINDING, "office/runs.jsonl", 1, check=one.check,
               subject=one.subject, outcome=one.outcome.value, sentence=one.sentence, runs=[1])
        for one in now
    ]  # fmt: skip
    assert kept
    assert not gone([*records, *kept])
    changed = [replace(one, values={**one.values, "outcome": "not determinable"}) for one in kept]
    assert len(gone([*records, *changed])) == len(kept)


def test_a_check_whose_time_has_not_come_is_said_not_to_have_been_asked() -> None:
    records = [*clean_records(1), past_finding("Out of tolerance.", 1, check="2c", subject="day")]
    assert "this run did not ask it" in gone(records)[0].sentence
    assert "does not say so any more" in gone(records, later=True)[0].sentence


def test_a_run_log_that_does_not_hang_together_is_a_query() -> None:
    found = only(
        findings("18", [*clean_records(1), past_run(1, 0), past_run(2, 0, "broken")]), Outcome.QUERY
    )
    assert "at run 2" in found.sentence


def discards() -> list[Record]:
    return [
        *clean_records(1),
        reading(2, "10:05:00", discarded=True, plate="QO2=11I"),
        reading(3, "10:06:00", plate="qo2=11i", session="S2"),
        reading(4, "10:15:00"),
        reading(5, "10:15:01"),
        reading(6, "10:40:00"),
    ]


def test_a_discarded_capture_is_marked_with_its_window_and_plate_but_never_names_it() -> None:
    """Window of the general rule set: 600 s."""
    found = [one for one in findings("18", discards()) if "discarded by" in one.sentence]
    assert [(one.subject, one.undermines, one.adverse) for one in found] == [
        ("capture 2", True, False)
    ]
    assert found[0].measured == [1, 3, 4]
    assert "same registration mark as capture 3" in found[0].sentence
    assert "QO2" not in found[0].sentence.upper()


def test_beside_each_capture_stand_the_discarded_ones_to_consider() -> None:
    assert discarded_beside(day_of(discards()), GENERAL) == {1: (2,), 3: (2,), 4: (2,)}


def test_every_adverse_finding_is_marked_as_possibly_undermining() -> None:
    records = change(
        clean_records(3), is_a(RecordKind.CERTIFICATE, certificate="calibration"), serial="XX"
    )
    found = run_checks(day_of(records), GENERAL)
    assert any(one.adverse for one in found)
    assert all(one.undermines for one in found if one.adverse)
