"""Forgeries by somebody who can sign: a stranger, or the holder of the key."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta

import pytest

from evidpack.container import layout
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.commitments import entry_line
from evidpack.proof.digests import chain_head, leaf_digest, sha256
from evidpack.proof.statement import SealStatement, parse_statement
from evidpack.proof.tree import tree_root
from evidpack.trust.authority import DemoAuthority
from evidpack.trust.cms import sign_detached
from evidpack.trust.demo_certificates import issue_signer
from evidpack.trust.fingerprints import fingerprint
from evidpack.verifying.report import Report, StepOutcome, Verdict
from tests.bundles import failing_steps, fault_texts, rebuilt, taken_apart, verified
from tests.sealed_days import SEALED_AT, STAMPED_AT, FixedKeys, SealedDay, stamped, trusting

Members = dict[str, bytes]


def resigned(
    members: Mapping[str, bytes],
    authority: DemoAuthority,
    change: Callable[[SealStatement], SealStatement] = lambda statement: statement,
) -> Members:
    """Everything an owner of that authority's signing key can do: pin, sign and stamp anew."""
    statement = parse_statement(members[layout.STATEMENT], path=layout.STATEMENT)
    statement = replace(
        statement,
        pinned={name: sha256(members[name]) for name in layout.PINNED_BY_SEAL},
        signing_certificate=fingerprint(authority.signer.certificate),
    )
    content = change(statement).to_bytes()
    signature = sign_detached(
        content, key=authority.signer.key, certificate=authority.signer.certificate
    )
    return dict(members) | {
        layout.STATEMENT: content,
        layout.SIGNATURE: signature,
        layout.TOKEN: stamped(signature, authority),
    }


def with_lines(members: Mapping[str, bytes], ledger: list[bytes], openings: list[bytes]) -> Members:
    return dict(members) | {
        layout.LEDGER: b"".join(line + b"\n" for line in ledger),
        layout.OPENINGS: b"".join(line + b"\n" for line in openings),
    }


def lines_of(members: Mapping[str, bytes]) -> tuple[list[bytes], list[bytes]]:
    return (
        members[layout.LEDGER].split(b"\n")[:-1],
        members[layout.OPENINGS].split(b"\n")[:-1],
    )


def recomputed(statement: SealStatement, ledger: list[bytes]) -> SealStatement:
    leaves = [leaf_digest(line) for line in ledger]
    return replace(statement, chain_head=chain_head(leaves), tree_root=tree_root(leaves))


def checked(sealed_day: SealedDay, members: Members, *, recheck: bool = False) -> Report:
    top, _ = taken_apart(sealed_day.bundle)
    return verified(rebuilt(top, members), sealed_day.trust, recheck=recheck)


def test_a_statement_signed_again_by_a_stranger_fails_at_the_signer(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    stranger = DemoAuthority.create(name="Test unit", now=SEALED_AT, key_source=_later_keys(50))
    report = checked(sealed_day, resigned(members, stranger))
    assert failing_steps(report) == [6, 7]
    assert report.answers["sealer"].signature.outcome is StepOutcome.HOLDS
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert "vouches for nobody" in fault_texts(report)


def _later_keys(start: int) -> FixedKeys:
    keys = FixedKeys()
    for _ in range(start):
        keys()
    return keys


def test_a_time_stamp_over_another_signature_fails_at_the_time(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    members[layout.TOKEN] = stamped(b"another signature", sealed_day.authority)
    report = checked(sealed_day, members)
    assert failing_steps(report) == [7]
    assert f"7 {layout.TOKEN}" in fault_texts(report)


def test_a_stripped_time_stamp_fails_at_the_time_and_is_named(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    del members[layout.TOKEN]
    report = checked(sealed_day, members)
    assert failing_steps(report) == [7]
    assert f"7 {layout.TOKEN}: the statement says that a time stamp must accompany it" in (
        fault_texts(report)
    )


def test_another_certificate_for_the_same_key_fails_at_the_signature(
    sealed_day: SealedDay,
) -> None:
    authority = sealed_day.authority
    other = issue_signer(
        authority.root, "Test unit", SEALED_AT - timedelta(days=2), authority.signer.key
    )
    assert other.certificate != authority.signer.certificate
    _, members = taken_apart(sealed_day.bundle)
    members[layout.SIGNATURE] = sign_detached(
        members[layout.STATEMENT], key=authority.signer.key, certificate=other.certificate
    )
    members[layout.TOKEN] = stamped(members[layout.SIGNATURE], authority)
    report = checked(sealed_day, members)
    assert failing_steps(report) == [5]
    assert "is not the one that the statement names" in fault_texts(report)


def test_a_claimed_time_after_the_time_stamp_fails_at_the_time(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    late = STAMPED_AT + timedelta(seconds=1)
    forged = resigned(
        members, sealed_day.authority, lambda statement: replace(statement, claimed_time=late)
    )
    assert failing_steps(checked(sealed_day, forged)) == [7]


def test_two_swapped_ledger_lines_fail_though_openings_follow(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    ledger, openings = lines_of(members)
    for lines in (ledger, openings):
        lines[0], lines[1] = lines[1], lines[0]
    forged = resigned(with_lines(members, ledger, openings), sealed_day.authority)
    report = checked(sealed_day, forged)
    assert failing_steps(report) == [3]
    assert "chain head" in fault_texts(report)


def test_an_entry_dropped_with_chain_and_tree_rebuilt_fails_at_the_contents(
    sealed_day: SealedDay,
) -> None:
    _, members = taken_apart(sealed_day.bundle)
    ledger, openings = lines_of(members)
    dropped = json.loads(openings[0])["values"]["path"]
    forged = resigned(
        with_lines(members, ledger[1:], openings[1:]),
        sealed_day.authority,
        lambda statement: recomputed(
            replace(
                statement,
                entries={**statement.entries, "file": statement.entries["file"] - 1},
                rule_set_entry=(statement.rule_set_entry or 0) - 1,
            ),
            ledger[1:],
        ),
    )
    report = checked(sealed_day, forged)
    assert failing_steps(report) == [4]
    assert f"data/{dropped}: the file has no ledger entry" in fault_texts(report)


def altered_entry(
    sealed_day: SealedDay, wanted: Callable[[dict[str, object]], bool], changes: dict[str, object]
) -> Members:
    """One entry's values changed, committed, chained, pinned, signed and stamped anew."""
    _, members = taken_apart(sealed_day.bundle)
    ledger, openings = lines_of(members)
    opened = [json.loads(line) for line in openings]
    number = next(n for n, one in enumerate(opened) if wanted(one["values"]))
    one = opened[number]
    one["values"].update(changes)
    kind = json.loads(ledger[number])["kind"]
    ledger[number] = entry_line(kind, one["values"], bytes.fromhex(one["key"]))
    openings[number] = canonical_bytes(one)
    return resigned(
        with_lines(members, ledger, openings),
        sealed_day.authority,
        lambda statement: recomputed(statement, ledger),
    )


def test_a_finding_altered_and_everything_signed_again_fails_at_the_re_check(
    sealed_day: SealedDay,
) -> None:
    forged = altered_entry(
        sealed_day,
        lambda values: values.get("check") == "1" and values.get("outcome") == "pass",
        {"sentence": "All is well."},
    )
    report = checked(sealed_day, forged, recheck=True)
    assert failing_steps(report) == [8]
    assert "check 1" in fault_texts(report)
    assert "sentence" in fault_texts(report)


def test_a_record_altered_and_everything_signed_again_fails_at_the_re_check(
    sealed_day: SealedDay,
) -> None:
    forged = altered_entry(
        sealed_day, lambda values: values.get("capture") == "C1", {"speed_mph": 91}
    )
    report = checked(sealed_day, forged, recheck=True)
    assert failing_steps(report) == [8]
    assert "speed_mph" in fault_texts(report)
    assert "readings.csv" in fault_texts(report) or "line 2" in fault_texts(report)


def test_a_pixel_root_altered_and_everything_signed_again_fails_at_the_re_check(
    sealed_day: SealedDay,
) -> None:
    forged = altered_entry(
        sealed_day, lambda values: "pixel_root" in values, {"pixel_root": "00" * 32}
    )
    report = checked(sealed_day, forged, recheck=True)
    assert failing_steps(report) == [8]
    assert "data/export/stills/C1_0001.jpg" in fault_texts(report)


def test_an_altered_finding_under_other_versions_is_listed_and_not_established(
    sealed_day: SealedDay,
) -> None:
    members = altered_entry(
        sealed_day, lambda values: values.get("check") == "1", {"sentence": "All is well."}
    )
    forged = resigned(
        members,
        sealed_day.authority,
        lambda statement: replace(statement, versions={**statement.versions, "tzdata": "1970.1"}),
    )
    report = checked(sealed_day, forged, recheck=True)
    assert failing_steps(report) == []
    assert report.step(8).outcome is StepOutcome.NOT_ESTABLISHED
    assert "tzdata: 1970.1 then" in report.step(8).examined
    assert report.step(8).faults


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"type": "receipt"}, '"type" of the seal statement'),
        ({"version": 2}, "format version 2, which this evidpack does not know"),
        ({"extra": 1}, "members that this format does not know"),
        ({"day": "OTHER-DAY"}, "not named for the day that was signed"),
        ({"claimed_time": "2026-05-14T18:00:00"}, '"claimed_time" of the seal statement'),
        ({"entries": {"file": 0, "record": 0, "finding": 0}}, "out of bounds"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_a_statement_of_another_form_is_refused_though_well_signed(
    sealed_day: SealedDay, change: dict[str, object], expected: str
) -> None:
    _, members = taken_apart(sealed_day.bundle)
    content = canonical_bytes(json.loads(members[layout.STATEMENT]) | change)
    signature = sign_detached(
        content,
        key=sealed_day.authority.signer.key,
        certificate=sealed_day.authority.signer.certificate,
    )
    members |= {
        layout.STATEMENT: content,
        layout.SIGNATURE: signature,
        layout.TOKEN: stamped(signature, sealed_day.authority),
    }
    report = checked(sealed_day, members)
    assert 3 in failing_steps(report)
    assert expected in fault_texts(report)


def test_without_anchors_the_bundle_is_intact_and_says_whom_to_ask(sealed_day: SealedDay) -> None:
    from evidpack.verifying.signing_steps import Trust

    report = verified(sealed_day.bundle, Trust())
    assert report.verdict is Verdict.INTACT
    assert report.verdict.exit_code == 3
    assert "fingerprint sheet" in (report.step(6).next_step or "")
    assert "--tsa-anchor" in (report.step(7).next_step or "")


def test_the_claimed_time_counts_only_when_accepted(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from tests.sealed_days import seal_day

    output = tmp_path_factory.mktemp("unstamped") / "bundle.zip"
    seal_day(sealed_day.folder / "day.toml", output, authority, time_stamp=None)
    bundle = output.read_bytes()
    assert verified(bundle, trusting(authority)).verdict is Verdict.INTACT
    accepted = verified(bundle, trusting(authority), accept_claimed_time=True)
    assert accepted.verdict is Verdict.VERIFIED_CLAIMED_TIME
    assert accepted.verdict.exit_code == 0
    assert "claimed by the sealer" in accepted.step(7).examined
