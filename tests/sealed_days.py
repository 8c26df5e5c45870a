"""A whole sealed day with fixed keys, randomness and times, for tests that need one."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric import ec

from evidpack.sealing.gather import gather_day, rule_file, sealing_note
from evidpack.sealing.order import SealOrder, Signer
from evidpack.sealing.seal import Sealed, seal
from evidpack.trust.authority import DemoAuthority, demo_time_stamp
from evidpack.trust.timestamps import request
from evidpack.verifying.signing_steps import Trust
from tests.small_day import write_small_day

SEALED_AT = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)
STAMPED_AT = SEALED_AT + timedelta(seconds=2)


class FixedKeys:
    """Hands out P-256 keys with the private values 1001, 1002, …: for tests, and for nothing else."""

    def __init__(self) -> None:
        self._next = 1000

    def __call__(self) -> ec.EllipticCurvePrivateKey:
        self._next += 1
        return ec.derive_private_key(self._next, ec.SECP256R1())


class FixedRandom:
    """Bytes that look random and are the same at every run."""

    def __init__(self, seed: int = 1) -> None:
        self._random = random.Random(seed)

    def __call__(self, count: int) -> bytes:
        return self._random.randbytes(count)


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedDay:
    """A sealed small day: its folder, its bundle, who signed, and what a verifier trusts."""

    folder: Path
    path: Path
    bundle: bytes
    authority: DemoAuthority
    trust: Trust
    sealed: Sealed


def seal_day(day_path: Path, output: Path, authority: DemoAuthority, **changes: object) -> Sealed:
    """Seal a described day with fixed keys, randomness and times."""
    now = SEALED_AT
    gathered = gather_day(
        day_path, rule_file(None), now=now, note=sealing_note(document_number="00ff", paper="A4")
    )
    order: dict[str, object] = {
        "signer": Signer(
            key=authority.signer.key,
            certificate=authority.signer.certificate,
            chain=authority.intermediates,
        ),
        "output": output,
        "claimed_time": now,
        "random": FixedRandom(),
        "time_stamp": lambda signature: stamped(signature, authority),
    }
    order.update(changes)
    return seal(gathered, SealOrder(**order))  # type: ignore[arg-type]


def stamped(signature: bytes, authority: DemoAuthority, when: datetime = STAMPED_AT) -> bytes:
    """A token of the demonstration authority over these bytes."""
    return demo_time_stamp(request(signature, 7), authority=authority, now=when)


def trusting(authority: DemoAuthority) -> Trust:
    """The anchors of that authority."""
    return Trust(
        anchors=(authority.root.certificate,),
        tsa_anchors=(authority.time_stamp_root.certificate,),
    )


def make_authority() -> DemoAuthority:
    """The demonstration authority with fixed keys."""
    return DemoAuthority.create(name="Test unit", now=SEALED_AT, key_source=FixedKeys())


def make_sealed_day(folder: Path, authority: DemoAuthority) -> SealedDay:
    """The small day, written into `folder` and sealed there."""
    path = folder / "bundle.zip"
    sealed = seal_day(write_small_day(folder), path, authority)
    return SealedDay(
        folder=folder,
        path=path,
        bundle=path.read_bytes(),
        authority=authority,
        trust=trusting(authority),
        sealed=sealed,
    )
