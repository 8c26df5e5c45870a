"""Packs: what they hold, and that what must be impossible is impossible.

Each change is tried twice: by somebody without the key, who repairs checksums and manifests, and,
where it says so, by the discloser, who signs the changed pack anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from evidpack.container import layout
from evidpack.disclosure.pack import MadePack
from evidpack.verifying.report import Verdict
from tests.bundles import failing_steps, fault_texts
from tests.disclosure.packs import parts, repaired, resigned, simple_pack, verified_pack
from tests.sealed_days import SealedDay, make_sealed_day

Members = dict[str, bytes]


def lines(members: Members, name: str) -> list[dict[str, object]]:
    return [json.loads(line) for line in members[name].splitlines()]


def put(members: Members, name: str, values: list[dict[str, object]]) -> None:
    members[name] = b"".join(
        json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        + b"\n"
        for value in values
    )


def first(members: Members, became: str, kind: str) -> int:
    return next(
        int(str(line["entry"]))
        for line in lines(members, layout.DISCLOSURE_ACCOUNTING)
        if line["became"] == became and line["kind"] == kind
    )


def test_a_pack_verifies_for_sealer_and_discloser(sealed_day: SealedDay, pack: bytes) -> None:
    report = verified_pack(pack, sealed_day.trust)
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    assert report.kind == "pack"
    assert set(report.answers) == {"sealer", "discloser"}
    assert [step.number for step in report.steps] == list(range(1, 10))


def test_a_pack_carries_the_seal_unchanged_and_never_a_key_or_a_withheld_file(
    sealed_day: SealedDay, made: tuple[MadePack, bytes]
) -> None:
    members, sealed = parts(made[1]), parts(sealed_day.bundle)
    assert members[layout.ORIGIN_STATEMENT] == sealed[layout.STATEMENT]
    assert members[layout.ORIGIN_SIGNATURE] == sealed[layout.SIGNATURE]
    assert members[layout.ORIGIN_TOKEN] == sealed[layout.TOKEN]
    keys = [json.loads(line)["key"] for line in sealed[layout.OPENINGS].splitlines()]
    assert len(keys) == len(made[0].plan.lines)
    for key in keys:
        assert key.encode() not in made[1]
        assert bytes.fromhex(key) not in made[1]
    assert "data/export/stills/C1_0001.jpg" in members
    assert "data/export/stills/C2_0002.png" not in members
    assert "data/export/readings.csv" not in members


def test_every_sealed_entry_is_accounted_for_once(made: tuple[MadePack, bytes]) -> None:
    members = parts(made[1])
    accounting = lines(members, layout.DISCLOSURE_ACCOUNTING)
    assert [line["entry"] for line in accounting] == list(range(len(accounting)))
    seal = json.loads(members[layout.ORIGIN_STATEMENT])
    assert len(accounting) == sum(seal["entries"].values())
    assert all(line["reason"] for line in accounting)


def test_rows_of_a_mixed_log_are_revealed_and_rendered_as_derived(
    made: tuple[MadePack, bytes],
) -> None:
    members = parts(made[1])
    csv_text = members["data/derived/reading.csv"].decode()
    assert "C1" in csv_text
    assert "C2" not in csv_text
    assert csv_text.splitlines()[0].startswith("entry,exhibit,")
    html = members["data/derived/reading.html"].decode()
    assert "Derived from the fields opened in this pack" in html


def omitted(members: Members) -> None:
    """An entry left out of the accounting."""
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    put(members, layout.DISCLOSURE_ACCOUNTING, values[:3] + values[4:])


def omitted_and_renumbered(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    kept = values[:-1]
    put(members, layout.DISCLOSURE_ACCOUNTING, kept)


def omitted_with_its_leaf(members: Members) -> None:
    leaves = members[layout.DISCLOSURE_LEAVES].splitlines(keepends=True)
    members[layout.DISCLOSURE_LEAVES] = b"".join(leaves[:-1])
    omitted_and_renumbered(members)


def used_twice(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    values[4] = values[3]
    put(members, layout.DISCLOSURE_ACCOUNTING, values)


def revealed_twice(members: Members) -> None:
    for name in (layout.DISCLOSURE_ENTRIES, layout.DISCLOSURE_OPENINGS):
        found = members[name].splitlines(keepends=True)
        members[name] = b"".join([found[0], *found])


def exhibit_twice(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    numbered = [value for value in values if value["exhibit"] is not None]
    numbered[1]["exhibit"] = numbered[0]["exhibit"]
    put(members, layout.DISCLOSURE_ACCOUNTING, values)


def file_changed(members: Members) -> None:
    name = "data/export/stills/C1_0001.jpg"
    members[name] = members[name][:-1] + b"x"


def file_added(members: Members) -> None:
    members["data/export/another.txt"] = b"not sealed\n"


def file_removed(members: Members) -> None:
    del members["data/export/stills/C1_0001.jpg"]


def field_changed(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_OPENINGS)
    fields = next(
        value["fields"]
        for value in values
        if "speed_mph" in value["fields"]  # type: ignore[operator]
    )
    fields["speed_mph"]["value"] = 99  # type: ignore[index]
    put(members, layout.DISCLOSURE_OPENINGS, values)


def wrong_salt(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_OPENINGS)
    fields = values[0]["fields"]
    name = next(iter(fields))  # type: ignore[call-overload]
    fields[name]["salt"] = "00" * 16  # type: ignore[index]
    put(members, layout.DISCLOSURE_OPENINGS, values)


def salt_of_another_field(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_OPENINGS)
    fields = values[0]["fields"]
    one, other = list(fields)[:2]  # type: ignore[call-overload]
    fields[one], fields[other] = fields[other], fields[one]  # type: ignore[index]
    put(members, layout.DISCLOSURE_OPENINGS, values)


def field_closed_silently(members: Members) -> None:
    values = lines(members, layout.DISCLOSURE_OPENINGS)
    fields = values[-1]["fields"]
    del fields[next(iter(fields))]  # type: ignore[attr-defined, call-overload]
    put(members, layout.DISCLOSURE_OPENINGS, values)


def rendering_changed(members: Members) -> None:
    name = "data/derived/reading.csv"
    members[name] = members[name].replace(b"41", b"71")


def leaf_changed(members: Members) -> None:
    leaves = members[layout.DISCLOSURE_LEAVES].splitlines()
    leaves[2] = hashlib.sha256(b"another").hexdigest().encode()
    members[layout.DISCLOSURE_LEAVES] = b"\n".join(leaves) + b"\n"


def withheld_hidden_as_released(members: Members) -> None:
    number = first(members, "withheld", "record")
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    values[number] |= {"became": "released", "exhibit": 9000, "use": "unused"}
    put(members, layout.DISCLOSURE_ACCOUNTING, values)


def finding_turned_neutral(members: Members) -> None:
    """A finding that was disclosed is hidden again, in form as any other withheld entry."""
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    number = first(members, "released", "finding")
    neutral = dict(values[first(members, "withheld", "record")])
    values[number] = neutral | {"entry": number, "kind": "finding"}
    put(members, layout.DISCLOSURE_ACCOUNTING, values)


CHANGES: dict[str, tuple[Callable[[Members], None], int]] = {
    change.__name__: (change, step)
    for change, step in (
        (omitted, 9),
        (omitted_and_renumbered, 9),
        (omitted_with_its_leaf, 3),
        (used_twice, 9),
        (revealed_twice, 4),
        (exhibit_twice, 9),
        (file_changed, 4),
        (file_added, 4),
        (file_removed, 4),
        (field_changed, 4),
        (wrong_salt, 4),
        (salt_of_another_field, 4),
        (field_closed_silently, 9),
        (rendering_changed, 4),
        (leaf_changed, 3),
        (withheld_hidden_as_released, 9),
        (finding_turned_neutral, 9),
    )
}


@pytest.mark.parametrize(("change", "step"), CHANGES.values(), ids=CHANGES.keys())
def test_no_change_passes_without_the_key(
    sealed_day: SealedDay, pack: bytes, change: Callable[[Members], None], step: int
) -> None:
    members = parts(pack)
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    change(members)
    report = verified_pack(repaired(top, members), sealed_day.trust)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert 4 in failing_steps(report), fault_texts(report)  # the pinned digests


@pytest.mark.parametrize(("change", "step"), CHANGES.values(), ids=CHANGES.keys())
def test_no_change_passes_with_the_disclosers_key(
    sealed_day: SealedDay, pack: bytes, change: Callable[[Members], None], step: int
) -> None:
    members = parts(pack)
    change(members)
    report = verified_pack(resigned(members, sealed_day.authority), sealed_day.trust)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert step in failing_steps(report), fault_texts(report)
    assert 5 not in failing_steps(report)


def test_an_unchanged_pack_signed_anew_verifies_so_that_the_tests_above_mean_something(
    sealed_day: SealedDay, pack: bytes
) -> None:
    report = verified_pack(resigned(parts(pack), sealed_day.authority), sealed_day.trust)
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)


@pytest.mark.parametrize(
    ("member", "value"),
    [("recipient", "Somebody else"), ("case", "CD-34"), ("issue", 2), ("exhibits", 9999)],
)
def test_recipient_case_and_issue_cannot_be_changed_without_the_key(
    sealed_day: SealedDay, pack: bytes, member: str, value: object
) -> None:
    members = parts(pack)
    statement = json.loads(members[layout.DISCLOSURE_STATEMENT])
    top = statement["pack"]
    statement[member] = value
    put(members, layout.DISCLOSURE_STATEMENT, [statement])
    members[layout.DISCLOSURE_STATEMENT] = members[layout.DISCLOSURE_STATEMENT].rstrip(b"\n")
    report = verified_pack(repaired(top, members), sealed_day.trust)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert 5 in failing_steps(report)


def test_a_reason_cannot_be_changed_without_the_key(sealed_day: SealedDay, pack: bytes) -> None:
    members = parts(pack)
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    values = lines(members, layout.DISCLOSURE_ACCOUNTING)
    numbered = next(value for value in values if value["exhibit"] is not None)
    numbered["reason"] = "Another reason."
    put(members, layout.DISCLOSURE_ACCOUNTING, values)
    report = verified_pack(repaired(top, members), sealed_day.trust)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    assert layout.DISCLOSURE_ACCOUNTING in fault_texts(report)


def test_a_wrong_count_is_found_even_signed(sealed_day: SealedDay, pack: bytes) -> None:
    def claim(statement: dict[str, object]) -> None:
        counts = dict(statement["accounting"])  # type: ignore[call-overload]
        counts["withheld"] -= 1
        counts["released"] += 1
        statement["accounting"] = counts

    report = verified_pack(resigned(parts(pack), sealed_day.authority, claim), sealed_day.trust)
    assert 9 in failing_steps(report)
    assert "the counts that the statement claims are not those" in fault_texts(report)


def test_an_entry_of_another_day_is_no_entry_of_this_one(
    sealed_day: SealedDay, pack: bytes, tmp_path: Path
) -> None:
    from tests.sealed_days import FixedRandom, seal_day
    from tests.small_day import write_small_day

    other_path = tmp_path / "other.zip"
    (tmp_path / "day").mkdir()
    seal_day(
        write_small_day(tmp_path / "day"), other_path, sealed_day.authority, random=FixedRandom(9)
    )
    members, other = parts(pack), parts(other_path.read_bytes())
    shown = [
        int(str(line["entry"]))
        for line in lines(members, layout.DISCLOSURE_ACCOUNTING)
        if line["became"] in ("released", "redacted")
    ]
    entries = members[layout.DISCLOSURE_ENTRIES].splitlines()
    entries[0] = other[layout.LEDGER].splitlines()[shown[0]]
    members[layout.DISCLOSURE_ENTRIES] = b"\n".join(entries) + b"\n"
    report = verified_pack(resigned(members, sealed_day.authority), sealed_day.trust)
    assert 4 in failing_steps(report)
    assert f"the revealed entry {shown[0]} is not the sealed one" in fault_texts(report)


def test_the_seal_of_another_day_does_not_fit(
    sealed_day: SealedDay, pack: bytes, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    other = make_sealed_day(tmp_path / "other", sealed_day.authority)
    del other
    members = parts(pack)
    statement = json.loads(members[layout.ORIGIN_STATEMENT])
    statement["tree_root"] = "00" * 32
    put(members, layout.ORIGIN_STATEMENT, [statement])
    members[layout.ORIGIN_STATEMENT] = members[layout.ORIGIN_STATEMENT].rstrip(b"\n")
    report = verified_pack(resigned(members, sealed_day.authority), sealed_day.trust)
    assert {3, 4, 5} <= set(failing_steps(report))


def test_every_file_of_a_pack_matters(sealed_day: SealedDay, pack: bytes) -> None:
    members = parts(pack)
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    tried = 0
    for name, data in members.items():
        if name in (layout.MANIFEST, layout.TAG_MANIFEST):
            continue
        changed = bytearray(data)
        changed[len(data) // 2] ^= 1
        report = verified_pack(
            repaired(top, members | {name: bytes(changed)}), sealed_day.trust, recheck=False
        )
        assert report.verdict is Verdict.DOES_NOT_VERIFY, name
        assert name in fault_texts(report), name
        tried += 1
    assert tried > 20


def test_a_sensitive_entry_looks_like_any_other_withheld_one(
    sealed_day: SealedDay, made: tuple[MadePack, bytes], tmp_path: Path
) -> None:
    number = first(parts(made[1]), "withheld", "record")
    _, secret = simple_pack(
        sealed_day,
        tmp_path / "secret.zip",
        (
            number,
            (
                'use = "unused"\ndecision = "withhold"\nreason = "may-hold-others"\n'
                'description = "an informant"\nsensitive = true\nsensitive_reason = "names a source"'
            ),
        ),
    )
    plain, hidden = parts(made[1]), parts(secret)
    for name in plain:
        if name.startswith(("data/", "origin/")) or name in (
            layout.DISCLOSURE_LEAVES,
            layout.DISCLOSURE_ACCOUNTING,
            layout.DISCLOSURE_ENTRIES,
            layout.DISCLOSURE_OPENINGS,
            layout.VERIFY,
            layout.INDEX,
        ):
            assert plain[name] == hidden[name], name
    assert json.loads(plain[layout.DISCLOSURE_STATEMENT]) == json.loads(
        hidden[layout.DISCLOSURE_STATEMENT]
    )
    assert b"informant" not in secret
