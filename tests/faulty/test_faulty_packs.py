"""Each faulty pack is found out by a verifier, by check 19, or before it is made."""

from __future__ import annotations

from pathlib import Path

import pytest

from evidpack.disclosure.leak_refusal import LeakError
from evidpack.verifying.report import Report, StepOutcome, Verdict
from tests.bundles import failing_steps, fault_texts
from tests.disclosure.packs import opened_bundle, parts, resigned, simple_pack, verified_pack
from tests.faulty.copies import WithBox, about_copies, faulty_pack
from tests.faulty.packs import PACK_FAULTS, PackFault
from tests.sealed_days import SealedDay

EDITED = [one for one in PACK_FAULTS if one.step is not None]
COPIES = [one for one in PACK_FAULTS if one.copy is not None]
REFUSED = [one for one in PACK_FAULTS if one.edit is None]


def failed(report: Report, step: int) -> str:
    found = report.step(step)
    assert found.outcome is StepOutcome.FAILS
    return " ".join(f"{fault.item}: {fault.message}" for fault in found.faults)


@pytest.mark.parametrize("one", EDITED, ids=lambda one: one.name)
def test_a_faulty_pack_signed_by_its_discloser_does_not_verify_and_the_item_is_named(
    one: PackFault, big_day: SealedDay, with_box: WithBox
) -> None:
    members, _exhibit = faulty_pack(one, with_box)
    report = verified_pack(resigned(members, big_day.authority), big_day.trust)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert one.step in failing_steps(report), fault_texts(report)
    assert one.item in failed(report, one.step or 0)


@pytest.mark.parametrize("one", COPIES, ids=lambda one: one.name)
def test_check_19_says_what_is_wrong_with_the_copy(one: PackFault, with_box: WithBox) -> None:
    members, exhibit = faulty_pack(one, with_box)
    (finding,) = about_copies(members)
    assert (finding.check, finding.outcome.value) == ("19", one.copy)
    assert finding.subject == f"exhibit {exhibit}"
    assert finding.adverse
    for words in one.says:
        assert words in finding.sentence


@pytest.mark.parametrize("one", REFUSED, ids=lambda one: one.name)
def test_a_pack_that_would_tell_of_somebody_else_is_not_made(
    one: PackFault, sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    number = next(
        entry.number for entry in bundle.entries() if entry.values.get("item_kind") == "document"
    )
    decision = f'decision = "inspect"\nreason = "x"\ndescription = "{one.description}"'
    with pytest.raises(LeakError) as caught:
        simple_pack(sealed_day, tmp_path / "p.zip", (number, f'use = "unused"\n{decision}'))
    assert not (tmp_path / "p.zip").exists()
    for words in one.says:
        assert words in caught.value.places[0]


def test_the_pack_that_is_edited_verifies_as_it_was_made(
    big_day: SealedDay, with_box: WithBox
) -> None:
    pack = with_box[1]
    again = resigned(parts(pack), big_day.authority)
    assert verified_pack(again, big_day.trust).verdict is Verdict.VERIFIED
    assert [one.outcome.value for one in about_copies(parts(pack))] == ["pass"]
