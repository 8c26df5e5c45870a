"""How the golden bundles were sealed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from evidpack.proof.statement import Previous
from evidpack.rules.built_in import built_in
from evidpack.sealing.gather import RuleFile, gather_day, gather_undescribed, sealing_note
from evidpack.sealing.order import Gathered, SealOrder, Signer
from evidpack.sealing.seal import Sealed, seal
from evidpack.trust.timestamps import request
from tests.golden import days
from tests.sealed_days import SEALED_AT, FixedRandom, make_authority, stamped
from tests.trust.certificate_maker import DAY, Made, authority, make, rsa_key
from tests.trust.openssl_authority import OpensslAuthority, set_up

Stamp = Callable[[bytes], bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signers:
    """The demonstration authority (P-256), and a county's: root, branch, an RSA signer whose
    certificate ends two days after sealing; a time-stamp authority made by OpenSSL."""

    demo: Signer
    county: Signer
    county_root: Made
    openssl: OpensslAuthority

    def stamp(self, signature: bytes) -> bytes:
        """A token of the demonstration time-stamp authority."""
        return stamped(signature, make_authority())

    def stamp_by_openssl(self, signature: bytes) -> bytes:
        """A token as `openssl ts` makes it, with its certificates unsorted."""
        return self.openssl.reply(request(signature, 11))


def make_signers(folder: Path) -> Signers:
    """Keys that are kept nowhere; the demonstration authority's are those of the tests."""
    demo = make_authority()
    root = authority()
    branch = authority("Invented County Branch", issuer=root, path_length=0)
    signer = make(issuer=branch, key=rsa_key(3072), start=SEALED_AT - DAY, end=SEALED_AT + 2 * DAY)
    folder.mkdir()
    return Signers(
        demo=Signer(key=demo.signer.key, certificate=demo.signer.certificate),
        county=Signer(key=signer.key, certificate=signer.certificate, chain=(branch.certificate,)),
        county_root=root,
        openssl=set_up(folder),
    )


def make_bundles(folder: Path, target: Path, signers: Signers) -> dict[str, Sealed]:
    """Seal all of them; what was sealed, by name."""
    made: dict[str, Sealed] = {}

    def one(
        name: str, gathered: Gathered, signer: Signer, stamp: Stamp | None, *,
        seed: int, previous: Previous | None = None,
    ) -> None:  # fmt: skip
        order = SealOrder(
            signer=signer, output=target / name, claimed_time=SEALED_AT,
            random=FixedRandom(seed), time_stamp=stamp, previous=previous,
        )  # fmt: skip
        made[name] = seal(gathered, order)

    clean = _gathered(days.clean_day(folder / "clean"), "general")
    assert not any(finding.adverse for finding in clean.findings)
    one("clean.zip", clean, signers.demo, signers.stamp, seed=101)
    adverse = _gathered(days.adverse_day(folder / "adverse"), "example_mph")
    assert any(finding.adverse for finding in adverse.findings)
    one("adverse-mph.zip", adverse, signers.demo, signers.stamp, seed=102)
    odd = _gathered(days.day_with_odd_names(folder / "odd"), "general")
    corrected = Previous(
        statement=bytes.fromhex(made["adverse-mph.zip"].statement_sha256),
        relation="correction",
        reason="files were missing",
    )
    one("odd-names-claimed-time.zip", odd, signers.demo, None, seed=103, previous=corrected)
    clip = _gathered(days.day_with_a_clip(folder / "clip"), "example_kmh")
    assert any(item.kind.value == "clip" for item in clip.intake.items)
    one("clip-kmh.zip", clip, signers.demo, signers.stamp, seed=104)
    many = _gathered(days.day_of_many(folder / "many"), "general")
    one("many-expired-rsa.zip", many, signers.county, signers.stamp, seed=105)
    alone = days.adverse_day(folder / "alone").parent / "export"
    one(
        "undescribed-openssl.zip", _undescribed(alone), signers.demo, signers.stamp_by_openssl,
        seed=106,
    )  # fmt: skip
    return made


def _gathered(day: Path, rules: str) -> Gathered:
    return gather_day(day, RuleFile(data=built_in(rules), name=rules), now=SEALED_AT, note=_note())


def _undescribed(folder: Path) -> Gathered:
    return gather_undescribed(folder, reference="ALONE-2026-05-14", now=SEALED_AT, note=_note())


def _note() -> bytes:
    return sealing_note(document_number="00ff", paper="A4")


def later(days_after: float) -> datetime:
    """A time after sealing."""
    return SEALED_AT + timedelta(days=days_after)
