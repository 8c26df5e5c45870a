"""How the golden packs were made."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from evidpack.disclosure.decisions import Decisions, load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.index_content import index_of_pack
from evidpack.disclosure.pack import PackOrder, make_pack
from evidpack.disclosure.passphrase import new_passphrase
from evidpack.disclosure.sealed_bundle import SealedBundle, open_sealed_bundle
from evidpack.disclosure.targets import EncryptedTarget
from tests.disclosure.deciding import filled, with_entry
from tests.disclosure.packs import DISCLOSED_AT, STAMPED_AT, make, signer_of
from tests.disclosure.redacting import BOX, still_of
from tests.golden import days
from tests.sealed_days import (
    FixedRandom,
    SealedDay,
    make_authority,
    seal_day,
    stamped,
    trusting,
)

_RELEASE = 'use = "unused"\ndecision = "release"\nreason = "may-assist"'
_REDACT = 'use = "relied on"\ndecision = "redact"\nreason = "third-party"'


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePacks:
    """The passphrase of the encrypted pack, and the day that all of them come from."""

    passphrase: str
    day: SealedDay


def make_packs(folder: Path, target: Path) -> MadePacks:
    """A plain pack and its second issue, a redacted one, an encrypted one."""
    day = _sealed(folder / "packed")
    bundle = open_sealed_bundle(io.BytesIO(day.bundle), path="bundle")
    first = _decided(bundle)
    _, plain = make(day, first, target / "plain.zip", index=index_of_pack, random=FixedRandom(201))
    more = [
        (entry.number, _RELEASE)
        for entry in bundle.entries()
        if str(entry.values.get("path")).endswith(("notes.txt", "day.toml"))
    ]
    make(
        day, _decided(bundle, *more), target / "issue-2.zip",
        index=index_of_pack, random=FixedRandom(202), earlier=plain,
    )  # fmt: skip
    still = still_of(bundle, "C1_0001.jpg")
    redacted = _decided(bundle, (still, _REDACT), more=BOX.format(entry=still))
    make(day, redacted, target / "redacted.zip", index=index_of_pack, random=FixedRandom(203))
    passphrase = new_passphrase(FixedRandom(204))
    order = PackOrder(
        signer=signer_of(day.authority), claimed_time=DISCLOSED_AT, random=FixedRandom(205),
        index=index_of_pack,
        time_stamp=lambda signature: stamped(signature, day.authority, STAMPED_AT),
    )  # fmt: skip
    salt = FixedRandom(206)(16)
    encrypted = EncryptedTarget(path=target / "encrypted.zip", passphrase=passphrase, salt=salt)
    make_pack(bundle, redacted, order, encrypted)
    return MadePacks(passphrase=passphrase, day=day)


def _sealed(folder: Path) -> SealedDay:
    authority = make_authority()
    path = folder.with_suffix(".zip")
    sealed = seal_day(days.day_with_large_stills(folder), path, authority)
    return SealedDay(
        folder=folder, path=path, bundle=path.read_bytes(), authority=authority,
        trust=trusting(authority), sealed=sealed,
    )  # fmt: skip


def _decided(bundle: SealedBundle, *edits: tuple[int, str], more: str = "") -> Decisions:
    text = filled(draft_decisions(bundle, ["C1"]))
    for entry, table in edits:
        text = with_entry(text, entry, table)
    return load_decisions((text + more).encode(), path="decisions.toml")
