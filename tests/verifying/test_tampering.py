"""Every file of a bundle flipped, shortened, deleted, renamed, swapped, doubled, and joined by
another: with ZIP checksums and manifests repaired, all of it must fail and name the item."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from evidpack.container import layout
from evidpack.verifying.report import StepOutcome, Verdict
from evidpack.verifying.signing_steps import SignedDocument, examine_signing
from tests.bundles import failing_steps, fault_texts, put_together, rebuilt, taken_apart, verified
from tests.sealed_days import SEALED_AT, SealedDay

MANIFESTS = {layout.MANIFEST, layout.TAG_MANIFEST, layout.BAG_INFO, layout.BAGIT}
Change = Callable[[dict[str, bytes], str], dict[str, bytes]]


def flipped(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    data = bytearray(members[name] or b"x")
    data[len(data) // 2] ^= 1
    return members | {name: bytes(data)}


def shortened(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    return members | {name: members[name][:-1]}


def lengthened(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    return members | {name: members[name] + b"\n"}


def deleted(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    return {other: data for other, data in members.items() if other != name}


def renamed(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    return {(f"{other}2" if other == name else other): data for other, data in members.items()}


def doubled(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    return members | {f"{name}.copy": members[name]}


def swapped(members: dict[str, bytes], name: str) -> dict[str, bytes]:
    other = next(
        one
        for one in sorted(members)
        if one not in MANIFESTS and one != name and members[one] != members[name]
    )
    return members | {name: members[other], other: members[name]}


CHANGES: dict[str, Change] = {
    change.__name__: change
    for change in (flipped, shortened, lengthened, deleted, renamed, doubled, swapped)
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_every_file_changed_is_found_and_named_though_checksums_and_manifests_are_repaired(
    sealed_day: SealedDay, change: Change
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    tried = 0
    for name in members:
        if name in MANIFESTS:
            continue
        report = verified(rebuilt(top, change(members, name)), sealed_day.trust, recheck=False)
        assert report.verdict is Verdict.DOES_NOT_VERIFY, f"{change.__name__} {name}"
        shown = fault_texts(report)
        assert name in shown or name.removeprefix("data/") in shown, f"{name} not named:\n{shown}"
        tried += 1
    assert tried == len(members) - len(MANIFESTS) > 10


@pytest.mark.parametrize("name", sorted(MANIFESTS))
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_every_tag_file_of_the_bag_changed_is_found_and_named(
    sealed_day: SealedDay, change: Change, name: str
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    report = verified(put_together(top, change(members, name)), sealed_day.trust, recheck=False)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert name in fault_texts(report)
    assert 2 in failing_steps(report)


def test_an_untouched_bundle_verifies_so_that_the_tests_above_mean_something(
    sealed_day: SealedDay,
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    again = rebuilt(top, members)
    assert again == sealed_day.bundle
    report = verified(again, sealed_day.trust)
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    assert [step.outcome for step in report.steps[:8]] == [StepOutcome.HOLDS] * 8


@pytest.mark.parametrize("name", [layout.STATEMENT, layout.SIGNATURE, layout.TOKEN])
def test_every_bit_of_statement_signature_and_token_matters(
    sealed_day: SealedDay, name: str
) -> None:
    _, members = taken_apart(sealed_day.bundle)
    accepted = []
    for bit in range(8 * len(members[name])):
        data = bytearray(members[name])
        data[bit // 8] ^= 1 << bit % 8
        result = examine_signing(document(members | {name: bytes(data)}), sealed_day.trust)
        if all(step.outcome is StepOutcome.HOLDS for step in result.steps):
            accepted.append(bit)
    assert accepted == []


def document(members: dict[str, bytes]) -> SignedDocument:
    """What steps 5 to 7 examine. The statement is taken as unreadable, as a flipped one may be:
    its digest alone must refuse it."""
    return SignedDocument(
        whose="sealer",
        statement=members[layout.STATEMENT],
        signature=members[layout.SIGNATURE],
        token=members[layout.TOKEN],
        statement_name=layout.STATEMENT,
        signature_name=layout.SIGNATURE,
        token_name=layout.TOKEN,
        claimed_time=SEALED_AT,
        signing_certificate=None,
        time_stamp_required=True,
    )
