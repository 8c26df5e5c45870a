"""Packs of the small day for tests, and packs changed by somebody with or without the key."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path

from evidpack.container import layout
from evidpack.container.bag import bag_info, manifest
from evidpack.disclosure.decisions import Decisions
from evidpack.disclosure.earlier import earlier_pack
from evidpack.disclosure.pack import MadePack, PackFacts, PackOrder, make_pack
from evidpack.disclosure.sealed_bundle import SealedBundle, open_sealed_bundle
from evidpack.disclosure.targets import PlainTarget
from evidpack.proof.canonical import canonical_bytes
from evidpack.sealing.order import Signer
from evidpack.trust.authority import DemoAuthority
from evidpack.trust.cms import sign_detached
from evidpack.verifying.any_file import verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import Report
from evidpack.verifying.signing_steps import Trust
from tests.bundles import VERIFIED_AT, put_together, taken_apart
from tests.disclosure.deciding import decided
from tests.sealed_days import FixedRandom, SealedDay, stamped

DISCLOSED_AT = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
STAMPED_AT = datetime(2026, 6, 1, 12, 0, 2, tzinfo=UTC)


def opened_bundle(day: SealedDay) -> SealedBundle:
    return open_sealed_bundle(io.BytesIO(day.bundle), path="bundle.zip")


def signer_of(authority: DemoAuthority) -> Signer:
    return Signer(
        key=authority.signer.key,
        certificate=authority.signer.certificate,
        chain=authority.intermediates,
    )


def plain_index(facts: PackFacts) -> bytes:
    """An index for tests that look at other things than the index."""
    return f"%PDF test index of {facts.reference}\n".encode()


def make(
    day: SealedDay,
    decisions: Decisions,
    path: Path,
    *,
    bundle: SealedBundle | None = None,
    earlier: bytes | None = None,
    **changes: object,
) -> tuple[MadePack, bytes]:
    """Make a pack with fixed keys, randomness and times; its bytes too."""
    sealed = bundle or opened_bundle(day)
    order: dict[str, object] = {
        "signer": signer_of(day.authority),
        "claimed_time": DISCLOSED_AT,
        "random": FixedRandom(2),
        "index": plain_index,
        "time_stamp": lambda signature: stamped(signature, day.authority, STAMPED_AT),
    }
    if earlier is not None:
        order["earlier"] = earlier_pack(
            io.BytesIO(earlier), path="earlier.zip", bundle=sealed, decisions=decisions
        )
    order.update(changes)
    made = make_pack(sealed, decisions, PackOrder(**order), PlainTarget(path=path))  # type: ignore[arg-type]
    return made, path.read_bytes()


def simple_decisions(bundle: SealedBundle, *edits: tuple[int, str]) -> Decisions:
    """All proposals about capture C1 taken, but for these entries."""
    return decided(bundle, ["C1"], *edits)


def simple_pack(day: SealedDay, path: Path, *edits: tuple[int, str]) -> tuple[MadePack, bytes]:
    """A pack about capture C1 by these decisions."""
    return make(day, simple_decisions(opened_bundle(day), *edits), path)


def verified_pack(pack: bytes, trust: Trust, **options: object) -> Report:
    return verify_file(
        io.BytesIO(pack),
        path="pack.zip",
        size=len(pack),
        options=Options(now=VERIFIED_AT, trust=trust, **options),  # type: ignore[arg-type]
    )


def repaired(top: str, members: Mapping[str, bytes]) -> bytes:
    """The archive of these members, with manifests and checksums made right: what somebody
    without the key can do."""
    manifests = {layout.MANIFEST, layout.TAG_MANIFEST}
    kept = {name: data for name, data in members.items() if name not in manifests}
    payload = {name: data for name, data in kept.items() if name.startswith(layout.DATA)}
    kept[layout.MANIFEST] = manifest(_digests(payload))
    kept[layout.TAG_MANIFEST] = manifest(
        _digests({name: data for name, data in kept.items() if name not in payload})
    )
    return put_together(top, in_pack_order(kept))


def _digests(members: Mapping[str, bytes]) -> dict[str, bytes]:
    return {name: hashlib.sha256(data).digest() for name, data in members.items()}


def in_pack_order(members: Mapping[str, bytes]) -> dict[str, bytes]:
    order = {name: place for place, name in enumerate(layout.PACK_TAG_ORDER)}

    def place_of(name: str) -> tuple[int, str]:
        if name.startswith(layout.DATA):
            return -1, name
        group = layout.DISCLOSURE_TILES if name.startswith(layout.DISCLOSURE_TILES) else name
        return order.get(group, len(order)), name

    return {name: members[name] for name in sorted(members, key=place_of)}


def resigned(
    members: dict[str, bytes],
    authority: DemoAuthority,
    change: Callable[[dict[str, object]], None] = lambda statement: None,
) -> bytes:
    """What the holder of the discloser's key can do: pin whatever the files are now, change the
    statement, and sign and stamp it anew."""
    statement = json.loads(members[layout.DISCLOSURE_STATEMENT])
    payload = {name: data for name, data in members.items() if name.startswith(layout.DATA)}
    top = str(statement["pack"])
    members[layout.BAG_INFO] = bag_info(
        top=top,
        payload_bytes=sum(map(len, payload.values())),
        payload_files=len(payload),
        bagging_date="2026-06-01",
    )
    statement["pinned"] = {
        name: hashlib.sha256(data).hexdigest()
        for name, data in members.items()
        if name not in layout.NOT_PINNED_BY_DISCLOSURE
    }
    change(statement)
    members[layout.DISCLOSURE_STATEMENT] = canonical_bytes(statement)  # type: ignore[arg-type]
    signature = sign_detached(
        members[layout.DISCLOSURE_STATEMENT],
        key=authority.signer.key,
        certificate=authority.signer.certificate,
        intermediates=authority.intermediates,
    )
    members[layout.DISCLOSURE_SIGNATURE] = signature
    members[layout.DISCLOSURE_TOKEN] = stamped(signature, authority, STAMPED_AT)
    return repaired(str(statement["pack"]), members)


def parts(pack: bytes) -> dict[str, bytes]:
    return taken_apart(pack)[1]
