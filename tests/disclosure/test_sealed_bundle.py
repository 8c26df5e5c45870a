"""Random access to a bundle: only what is asked for is read, and what was changed is refused."""

from __future__ import annotations

import hashlib
import io
import json
from pathlib import Path

import pytest

from evidpack.container import layout
from evidpack.disclosure.sealed_bundle import open_sealed_bundle
from evidpack.errors import ContainerError, EvidpackError, ProofError, UsageError
from evidpack.proof.canonical import canonical_bytes
from evidpack.trust.authority import DemoAuthority
from evidpack.trust.cms import sign_detached
from tests.bundles import rebuilt, taken_apart
from tests.disclosure.packs import make, opened_bundle, parts, simple_decisions
from tests.sealed_days import SealedDay


class Counting(io.BytesIO):
    """A file that remembers which bytes were read."""

    def __init__(self, data: bytes) -> None:
        super().__init__(data)
        self.seen = bytearray(len(data))

    def read(self, count: int | None = -1, /) -> bytes:
        start = self.tell()
        data = super().read(count)
        self.seen[start : start + len(data)] = b"\x01" * len(data)
        return data


def test_nothing_of_the_payload_is_read_but_what_is_released(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    stream = Counting(sealed_day.bundle)
    bundle = open_sealed_bundle(stream, path="b")
    decisions = simple_decisions(bundle)
    _, pack = make(sealed_day, decisions, tmp_path / "p.zip", bundle=bundle)
    released = {name for name in parts(pack) if name.startswith(layout.DATA)}
    untouched = 0
    for member in bundle.archive.members:
        if member.name.startswith(layout.DATA) and member.name not in released:
            seen = sum(stream.seen[member.offset : member.offset + member.size])
            assert seen == 0, member.name
            untouched += 1
    assert untouched >= 4
    assert layout.DATA + "export/stills/C2_0002.png" not in released


def test_an_entry_is_found_by_its_number(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    for entry in bundle.entries():
        assert bundle.entry(entry.number) == entry
        assert bundle.proved(entry.number).entry == entry
    with pytest.raises(ProofError, match="there is no entry of that number"):
        bundle.entry(bundle.count)


def changed_ledger(members: dict[str, bytes]) -> None:
    members[layout.LEDGER] = members[layout.LEDGER].replace(b'"kind":"file"', b'"kind":"fild"', 1)


def shortened_openings(members: dict[str, bytes]) -> None:
    members[layout.OPENINGS] = b"".join(members[layout.OPENINGS].splitlines(keepends=True)[:-1])


def changed_opening(members: dict[str, bytes]) -> None:
    """Of an entry that would be withheld: no pack would show it, and its value would be looked for in
    vain."""
    members[layout.OPENINGS] = members[layout.OPENINGS].replace(
        b'"speed_mph":44', b'"speed_mph":45'
    )


def changed_statement(members: dict[str, bytes]) -> None:
    members[layout.STATEMENT] = members[layout.STATEMENT].replace(b"SMALL", b"SMELL")


def no_ledger(members: dict[str, bytes]) -> None:
    del members[layout.LEDGER]


@pytest.mark.parametrize(
    ("change", "kind", "message"),
    [
        (changed_ledger, ProofError, "the ledger is not the one that the seal statement names"),
        (shortened_openings, ProofError, "there are not as many openings as entries"),
        (
            changed_opening,
            ProofError,
            "the openings are not the ones that the seal statement names",
        ),
        (changed_statement, EvidpackError, "signature"),
        (no_ledger, ContainerError, "this is not a bundle: it holds no ledger"),
    ],
)
def test_a_changed_bundle_is_not_disclosed_from(
    sealed_day: SealedDay, change: object, kind: type[EvidpackError], message: str
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    change(members)  # type: ignore[operator]
    with pytest.raises(kind, match=message):
        open_sealed_bundle(io.BytesIO(rebuilt(top, members)), path="b")


def test_an_opening_that_does_not_give_its_line_is_not_revealed(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    """A sealer's own work may be wrong: openings that the statement names, of other values."""
    top, members = taken_apart(sealed_day.bundle)
    members[layout.OPENINGS] = members[layout.OPENINGS].replace(
        b'"speed_mph":41', b'"speed_mph":42'
    )
    pinned = {"seal/openings.jsonl": hashlib.sha256(members[layout.OPENINGS]).hexdigest()}
    bundle = open_sealed_bundle(
        io.BytesIO(resigned_seal(top, members, pinned, sealed_day.authority)), path="b"
    )
    with pytest.raises(ProofError, match="does not open as it was committed"):
        make(sealed_day, simple_decisions(bundle), tmp_path / "p.zip", bundle=bundle)
    assert not (tmp_path / "p.zip").exists()


def resigned_seal(
    top: str, members: dict[str, bytes], pinned: dict[str, str], authority: DemoAuthority
) -> bytes:
    statement = json.loads(members[layout.STATEMENT])
    statement["pinned"] |= pinned
    members[layout.STATEMENT] = canonical_bytes(statement)
    members[layout.SIGNATURE] = sign_detached(
        members[layout.STATEMENT],
        key=authority.signer.key,
        certificate=authority.signer.certificate,
        intermediates=authority.intermediates,
    )
    return rebuilt(top, members)


def test_entries_are_the_same_each_time_through(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    first = next(iter(bundle.entries()))
    partly = [one for one, _ in zip(bundle.entries(), range(3), strict=False)]
    assert partly[0] == first
    strictly = [opened_bundle(sealed_day).entry(number) for number in range(bundle.count)]
    assert list(bundle.entries()) == strictly
    assert list(bundle.entries()) == strictly


def test_nothing_is_ever_written_over(sealed_day: SealedDay, tmp_path: Path) -> None:
    (tmp_path / "p.zip").write_bytes(b"mine")
    bundle = opened_bundle(sealed_day)
    with pytest.raises(UsageError, match="nothing is ever replaced"):
        make(sealed_day, simple_decisions(bundle), tmp_path / "p.zip", bundle=bundle)
    assert (tmp_path / "p.zip").read_bytes() == b"mine"
