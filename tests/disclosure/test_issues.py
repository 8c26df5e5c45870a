"""The continuing duty: a second issue adds without renumbering, and says what it changes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.disclosure.compare import compare_packs
from evidpack.disclosure.index_content import index_of_pack
from evidpack.disclosure.pack import MadePack
from evidpack.disclosure.pending import Pending, not_yet_disclosed
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.errors import UsageError
from evidpack.verifying.pack import OpenedPack, open_pack
from evidpack.verifying.report import Step, Verdict
from tests.bundles import fault_texts
from tests.disclosure.deciding import decided, filled
from tests.disclosure.packs import (
    make,
    opened_bundle,
    parts,
    simple_decisions,
    verified_pack,
)
from tests.sealed_days import SealedDay

INSPECT = 'use = "unused"\ndecision = "inspect"\nreason = "x"\ndescription = "a note"'
RELEASE = 'use = "unused"\ndecision = "release"\nreason = "may-assist"'
WITHHOLD = 'use = "not relevant"\ndecision = "withhold"\nreason = "earlier-by-mistake"'
CLOSE = 'use = "relied on"\ndecision = "redact"\nclose = ["range_m"]\nreason = "third-party"'


def opened(pack: bytes) -> OpenedPack:
    import io

    found = open_pack(read_archive(io.BytesIO(pack), path="pack.zip"), path="pack.zip")
    assert not isinstance(found, Step)
    return found


def numbered(bundle: SealedBundle, **values: object) -> int:
    return next(
        entry.number
        for entry in bundle.entries()
        if all(entry.values.get(name) == value for name, value in values.items())
    )


@pytest.fixture(scope="module")
def issues(
    sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory
) -> tuple[MadePack, bytes, MadePack, bytes]:
    """Issue 2 releases a document that was to be viewed, withdraws a record, closes a field."""
    folder = tmp_path_factory.mktemp("issues")
    bundle = opened_bundle(sealed_day)
    document = numbered(bundle, item_kind="document")
    gone = numbered(bundle, record_kind="operator")
    one, first = make(
        sealed_day,
        simple_decisions(bundle, (document, INSPECT)),
        folder / "one.zip",
        index=index_of_pack,
    )
    two, second = make(
        sealed_day,
        simple_decisions(
            bundle,
            (document, RELEASE),
            (gone, WITHHOLD),
            (numbered(bundle, record_kind="reading", capture="C1"), CLOSE),
        ),
        folder / "two.zip",
        earlier=first,
        index=index_of_pack,
    )
    return one, first, two, second


def test_issue_2_verifies_and_names_issue_1(
    sealed_day: SealedDay, issues: tuple[MadePack, bytes, MadePack, bytes]
) -> None:
    one, _, two, second = issues
    report = verified_pack(second, sealed_day.trust)
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    assert two.statement.issue == 2
    assert two.statement.previous is not None
    assert two.statement.previous.hex() == one.statement_sha256


def test_no_exhibit_changes_its_number_and_new_ones_go_on(
    issues: tuple[MadePack, bytes, MadePack, bytes],
) -> None:
    one, _, two, _ = issues
    before = {line.entry: line.exhibit for line in one.plan.lines if line.exhibit}
    after = {line.entry: line.exhibit for line in two.plan.lines if line.exhibit}
    assert {entry: after[entry] for entry in before} == before
    assert all(
        number > one.statement.exhibits
        for entry, number in after.items()
        if entry not in before and number
    )


def test_what_was_given_and_is_withheld_now_is_said_to_be_withdrawn(
    sealed_day: SealedDay, issues: tuple[MadePack, bytes, MadePack, bytes]
) -> None:
    _, _, two, second = issues
    number = numbered(opened_bundle(sealed_day), record_kind="operator")
    line = two.plan.lines[number]
    assert line.became == "withdrawn"
    assert line.description == "Disclosed in an earlier issue, and withdrawn."
    assert b"A. Nobody" not in second
    assert "data/derived/operator.csv" not in parts(second)


def test_compare_says_what_was_added_withdrawn_and_newly_redacted(
    sealed_day: SealedDay, issues: tuple[MadePack, bytes, MadePack, bytes]
) -> None:
    _, first, _, second = issues
    bundle = opened_bundle(sealed_day)
    comparison = compare_packs(opened(first), opened(second))
    assert comparison.follows
    found = {(change.how, change.entry) for change in comparison.changes}
    assert found == {
        ("added", numbered(bundle, item_kind="document")),
        ("withdrawn", numbered(bundle, record_kind="operator")),
        ("newly redacted", numbered(bundle, record_kind="reading", capture="C1")),
    }
    assert comparison.unchanged == bundle.count - 3


def test_the_index_of_issue_2_says_what_it_changes(
    issues: tuple[MadePack, bytes, MadePack, bytes],
) -> None:
    import io

    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(parts(issues[3])[layout.INDEX]))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "Withdrawn: exhibit" in text
    assert "Newly redacted: exhibit" in text
    assert "Added: exhibit" in text


def test_packs_in_the_wrong_order_are_refused(
    issues: tuple[MadePack, bytes, MadePack, bytes],
) -> None:
    with pytest.raises(UsageError, match="the first pack is the later issue"):
        compare_packs(opened(issues[3]), opened(issues[1]))


@pytest.mark.parametrize(("name", "value"), [("case", "ZZ-99"), ("recipient", "Another office")])
def test_an_issue_follows_only_on_one_for_the_same_case_and_recipient(
    sealed_day: SealedDay,
    issues: tuple[MadePack, bytes, MadePack, bytes],
    tmp_path: Path,
    name: str,
    value: str,
) -> None:
    from evidpack.disclosure.decisions import load_decisions
    from evidpack.disclosure.draft import draft_decisions

    bundle = opened_bundle(sealed_day)
    text = filled(draft_decisions(bundle, ["C1"]), **{name: value})
    decisions = load_decisions(text.encode(), path="d")
    with pytest.raises(UsageError, match=f"the earlier issue is of another {name}"):
        make(sealed_day, decisions, tmp_path / "p.zip", earlier=issues[1])


def test_a_changed_earlier_issue_is_refused(
    sealed_day: SealedDay, issues: tuple[MadePack, bytes, MadePack, bytes], tmp_path: Path
) -> None:
    from tests.disclosure.packs import repaired

    members = parts(issues[1])
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    members[layout.VERIFY] += b"\n"
    with pytest.raises(UsageError, match="the earlier issue does not verify"):
        make(
            sealed_day,
            simple_decisions(opened_bundle(sealed_day)),
            tmp_path / "p.zip",
            earlier=repaired(top, members),
        )


def test_findings_of_a_later_check_are_pointed_out_as_not_yet_disclosed(
    issues: tuple[MadePack, bytes, MadePack, bytes],
) -> None:
    pack = opened(issues[3])
    shown = next(
        one.opened
        for one in pack.contents.revealed
        if one.line.kind == "finding" and one.opened.get("adverse") and not one.closed
    )
    new = {
        "check": "2c",
        "subject": "meter ZZ-0001",
        "outcome": "fail",
        "sentence": "New.",
        "adverse": True,
    }
    harmless = new | {"outcome": "pass", "adverse": False}
    expected = [Pending(finding=new, entry=None, became=None)]
    assert not_yet_disclosed(pack, [dict(shown), new, harmless]) == expected


def test_with_the_bundle_new_findings_are_told_from_those_sealed_and_withheld(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    adverse = [
        entry
        for entry in bundle.entries()
        if entry.kind == "finding" and entry.values["adverse"] and entry.values["sentence"]
    ]
    hidden, partly, whole = adverse[:3]
    close = RELEASE.replace('"release"', '"redact"') + '\nclose = ["sentence"]'
    decisions = decided(
        bundle, ["C1"], (hidden.number, WITHHOLD), (partly.number, close), (whole.number, RELEASE)
    )
    pack = opened(make(sealed_day, decisions, tmp_path / "p.zip")[1])
    other = {**partly.values, "sentence": "Another than the one that was sealed."}
    found = [dict(one.values) for one in (hidden, partly, whole)]
    assert not_yet_disclosed(pack, [*found, other], bundle=bundle) == [
        Pending(finding=found[0], entry=hidden.number, became="withheld"),
        Pending(finding=other, entry=None, became=None),
    ]
    # Without it, the closed sentence cannot tell the other finding apart.
    assert [one.finding for one in not_yet_disclosed(pack, [*found, other])] == [found[0]]


def test_an_adverse_finding_withheld_by_decision_shows_in_the_counts(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    number = next(
        entry.number
        for entry in bundle.entries()
        if entry.kind == "finding" and entry.values["outcome"] == "query"
    )
    decisions = decided(bundle, ["C1"], (number, WITHHOLD))
    _, pack = make(sealed_day, decisions, tmp_path / "p.zip")
    step = verified_pack(pack, sealed_day.trust).step(9)
    total = sealed_day.sealed.statement.findings["query"]
    shown = int(step.examined.split(f" of {total} query")[0].split()[-1])
    assert shown < total
