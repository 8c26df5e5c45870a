"""No text of a pack may hold what it withholds; the refusal says line by line what to write."""

from __future__ import annotations

from pathlib import Path

import pytest

from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.leak_refusal import LeakError
from evidpack.disclosure.leakage import Shown, find_leaks
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.model.values import JsonValue
from tests.disclosure.changed_days import changed_day, with_report
from tests.disclosure.deciding import filled, with_entry
from tests.disclosure.packs import make, opened_bundle, simple_pack
from tests.disclosure.test_plan import RELEASE, number_of, unread_row
from tests.sealed_days import SealedDay


def leak(day: SealedDay, folder: Path, *edits: tuple[int, str]) -> LeakError:
    with pytest.raises(LeakError) as caught:
        simple_pack(day, folder / "p.zip", *edits)
    assert not (folder / "p.zip").exists()
    return caught.value


@pytest.mark.parametrize(
    "text",
    [
        "Seen beside 44 mph",
        "as in c2_0002.png",
        "see export/stills/C2_0002.png",
        "taken at 09:20:30",
        "like not a speed",
    ],
)
def test_a_description_that_names_a_withheld_value_is_refused_and_named(
    sealed_day: SealedDay, tmp_path: Path, text: str
) -> None:
    bundle = opened_bundle(sealed_day)
    number = number_of(bundle, item_kind="document")
    error = leak(
        sealed_day,
        tmp_path,
        (number, f'use = "unused"\ndecision = "inspect"\nreason = "x"\ndescription = "{text}"'),
    )
    assert f"description of entry {number}: names what entry" in error.places[0]
    assert text not in str(error) + str(error.hint)


@pytest.mark.parametrize("name", ["case", "recipient", "decided_by"])
def test_case_recipient_and_decider_are_looked_through_too(
    sealed_day: SealedDay, tmp_path: Path, name: str
) -> None:
    bundle = opened_bundle(sealed_day)
    text = filled(draft_decisions(bundle, ["C1"]), **{name: "matter of C2_0002.png"})
    decisions = load_decisions(text.encode(), path="d")
    with pytest.raises(LeakError) as caught:
        make(sealed_day, decisions, tmp_path / "p.zip", bundle=bundle)
    assert any(f"[pack] {name}" in place for place in caught.value.places)


def test_an_opened_field_that_repeats_a_withheld_value_is_named(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    number = unread_row(bundle)
    error = leak(sealed_day, tmp_path, (number, RELEASE))
    assert any(f"field sentence of entry {number}:" in place for place in error.places)


def test_a_closed_value_may_not_stand_open_in_another_entry(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    number = number_of(bundle, record_kind="site")
    error = leak(
        sealed_day,
        tmp_path,
        (number, 'use = "unused"\ndecision = "redact"\nclose = ["id"]\nreason = "x"'),
    )
    session = number_of(bundle, record_kind="session")
    assert any(f"field site of entry {session}" in place for place in error.places)


def test_what_everybodys_rows_share_is_no_secret(sealed_day: SealedDay, tmp_path: Path) -> None:
    bundle = opened_bundle(sealed_day)
    number = number_of(bundle, item_kind="document")
    simple_pack(
        sealed_day,
        tmp_path / "p.zip",
        (
            number,
            (
                'use = "unused"\ndecision = "inspect"\nreason = "x"\n'
                'description = "Of session S1 with meter ZZ-0001, 44 sheets, pass"'
            ),
        ),
    )


# What to write instead

WITHHOLD = (
    'use = "unused"\ndecision = "withhold"\nreason = "may-hold-others"\ndescription = "A note."'
)


def refused_text(
    day: SealedDay, text: str, folder: Path, name: str = "p.zip"
) -> tuple[LeakError, list[str]]:
    """The refusal of these decisions, and the lines of its advice."""
    with pytest.raises(LeakError) as caught:
        make(day, load_decisions(text.encode(), path="decisions.toml"), folder / name)
    return caught.value, str(caught.value.hint).splitlines()


def line_of(text: str, number: int) -> int:
    """The line of an entry's own table."""
    return text[: text.index(f"[[entry]]\nentry = {number}\n")].count("\n") + 1


def report_day(day: SealedDay, folder: Path) -> tuple[SealedDay, SealedBundle, str, int]:
    """A day whose report names a file that the office withholds after all: decisions, and the
    number of the report's record."""

    def change(folder: Path) -> None:
        (folder / "export" / "signed.txt").write_text("Signed by nobody.\n", "utf-8")
        with_report("signed.txt")(folder)

    changed = changed_day(folder, day, change)
    bundle = opened_bundle(changed)
    text = filled(draft_decisions(bundle, ["C1"]))
    text = with_entry(text, number_of(bundle, path="export/signed.txt"), WITHHOLD)
    return changed, bundle, text, number_of(bundle, record_kind="report")


def test_a_record_of_a_class_gets_the_very_table_to_add(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    day, bundle, text, number = report_day(sealed_day, tmp_path / "day")
    error, advice = refused_text(day, text, tmp_path)
    note = number_of(bundle, path="export/signed.txt")
    assert error.message == "1 text would give away what the pack withholds, so no pack is made"
    assert error.places == (f"field document of entry {number}: names what entry {note} withholds",)
    line = text[: text.index('class = "the session and its site"')].count("\n")
    assert advice == [
        f"{error.places[0]}.",
        f"  In the [[class]] at line {line}, take {number} out of entries, and add",
        "    [[entry]]",
        f"    entry = {number}",
        '    use = "relied on"',
        '    decision = "redact"',
        '    close = ["document"]',
        '    reason = "names-withheld"',
        f"  Or disclose entry {note} (line {line_of(text, note)}).",
    ]
    assert "signed.txt" not in str(error) + str(error.hint)
    followed = with_entry(text, number, "\n".join(line.strip() for line in advice[4:8]))
    made, _ = make(day, load_decisions(followed.encode(), path="d"), tmp_path / "p.zip")
    assert made.plan.lines[number].closed == ("document",)


def test_a_record_decided_by_itself_is_told_the_lines_of_its_own_table(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    day, _, text, number = report_day(sealed_day, tmp_path / "day")
    text = with_entry(
        text,
        number,
        'use = "relied on"\ndecision = "redact"\nclose = ["signed_by"]\nreason = "third-party"',
    )
    # The name that is closed in the report stands open as the operator's: two entries to mend.
    _, advice = refused_text(day, text, tmp_path)
    line = line_of(text, number)
    at = advice.index(f"  In the [[entry]] at line {line}, entry = {number}, write")
    assert advice[at + 1 : at + 3] == [
        '    decision = "redact"',
        '    close = ["document", "signed_by"]',
    ]
    assert any(line.startswith("field name of entry") for line in advice)
    assert f"  Or open what entry {number} keeps closed (line {line}: close)." in advice


def test_a_file_that_names_what_is_withheld_cannot_be_closed_itself(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    def about_another(folder: Path) -> None:
        (folder / "export" / "about C2_0002.png.txt").write_text("Nothing.", "utf-8")

    day = changed_day(tmp_path / "day", sealed_day, about_another)
    bundle = opened_bundle(day)
    number = number_of(bundle, path="export/about C2_0002.png.txt")
    text = with_entry(filled(draft_decisions(bundle, ["C1"])), number, RELEASE)
    error, advice = refused_text(day, text, tmp_path)
    assert error.places[0].startswith(f"field path of entry {number}: names what entry")
    line = line_of(text, number)
    assert (
        advice[1] == f"  No field of a file can be closed: withhold entry {number} (line {line})."
    )


def test_a_text_that_somebody_typed_is_named_with_its_line(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    number = number_of(bundle, item_kind="document")
    table = (
        'use = "unused"\ndecision = "inspect"\nreason = "44 mph"\ndescription = "as C2_0002.png"'
    )
    text = with_entry(filled(draft_decisions(bundle, ["C1"])), number, table)
    error, advice = refused_text(sealed_day, text, tmp_path)
    line = line_of(text, number)
    assert error.message.startswith("2 texts would give away")
    assert [one.partition(": names")[0] for one in advice] == [
        f"Line {line}: description of entry {number}",
        f"Line {line}: reason of entry {number}",
    ]
    assert all(one.endswith("withholds. Write it anew.") for one in advice)


@pytest.mark.parametrize("limit", ["99 ± 1.43", "98.6 to 99", 99, [99, 101]])
def test_what_a_finding_measured_is_looked_for_with_its_unit(limit: JsonValue) -> None:
    reading = SealedEntry(
        number=0, kind="record", values={"record_kind": "reading", "speed_mph": 99}, key=bytes(32)
    )
    finding: dict[str, JsonValue] = {"subject": "capture 29", "limit": limit, "unit": "mph"}
    shown = Shown(number=1, kind="finding", values=finding, closed=())
    (found,) = find_leaks([reading], [shown], [], [])
    assert (found.field, found.withheld) == ("limit", [0])
    for closed, values in ((("limit",), finding), ((), finding | {"unit": "s"})):
        shown = Shown(number=1, kind="finding", values=values, closed=closed)
        assert find_leaks([reading], [shown], [], []) == []


@pytest.mark.parametrize(
    ("subject", "closed", "fields"),
    [
        ("capture 29", ("sentence", "limit"), {"measured"}),
        ("capture 29", (), {"measured", "limit", "sentence"}),
        ("capture 29", ("sentence", "limit", "measured"), set()),
        ("capture 3", ("sentence", "limit"), set()),
    ],
)
def test_what_was_measured_of_a_withheld_capture_goes_with_its_sentence(
    subject: str, closed: tuple[str, ...], fields: set[str]
) -> None:
    capture: dict[str, JsonValue] = {"record_kind": "capture", "number": 29}
    reading: dict[str, JsonValue] = {"record_kind": "reading", "speed_mph": 99}
    withheld = [
        SealedEntry(number=number, kind="record", values=values, key=bytes(32))
        for number, values in enumerate((capture, reading))
    ]
    finding: dict[str, JsonValue] = {
        "subject": subject,
        "sentence": "The ranges give 96.08 mph.",
        "measured": 96.08,
        "limit": "99 ± 1.43",
        "unit": "mph",
    }
    shown = Shown(number=2, kind="finding", values=finding, closed=closed)
    assert {leak.field for leak in find_leaks(withheld, [shown], [], [])} == fields
