"""Steps 5 to 7 of a pack, each for the sealer and for the discloser."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from cryptography import x509

from evidpack.container import layout
from evidpack.limits import MAX_SIGNATURE_BYTES, MAX_TOKEN_BYTES
from evidpack.trust.fingerprints import fingerprint, grouped, name_of
from evidpack.verifying.bundle import Options, optional_member
from evidpack.verifying.report import Answers, NamedCertificate, Step, StepOutcome
from evidpack.verifying.signing_steps import SignedDocument, SigningResult, examine_signing

if TYPE_CHECKING:
    from evidpack.verifying.pack import OpenedPack

_WORST_FIRST: Final = (StepOutcome.FAILS, StepOutcome.NOT_ESTABLISHED, StepOutcome.HOLDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class BothSigned:
    """Steps 5, 6 and 7 for both, and the three answers for each."""

    steps: tuple[Step, ...]
    answers: dict[str, Answers]
    certificates: tuple[NamedCertificate, ...]


def examine_both(opened: OpenedPack, options: Options) -> BothSigned:
    """Judge the seal statement and the disclosure statement by the same anchors."""
    sealer = examine_signing(_origin(opened, options), options.trust)
    discloser = examine_signing(_discloser(opened), options.trust)
    return BothSigned(
        steps=tuple(
            _joined(of_sealer, of_discloser)
            for of_sealer, of_discloser in zip(sealer.steps, discloser.steps, strict=True)
        ),
        answers={"sealer": sealer.answers, "discloser": discloser.answers},
        certificates=_certificates(sealer, discloser, options),
    )


def _origin(opened: OpenedPack, options: Options) -> SignedDocument:
    statement = opened.origin
    archive = opened.archive
    return SignedDocument(
        whose="sealer",
        statement=opened.origin_bytes,
        signature=optional_member(archive, layout.ORIGIN_SIGNATURE, MAX_SIGNATURE_BYTES),
        token=optional_member(archive, layout.ORIGIN_TOKEN, MAX_TOKEN_BYTES) or options.time_stamp,
        statement_name=layout.ORIGIN_STATEMENT,
        signature_name=layout.ORIGIN_SIGNATURE,
        token_name=layout.ORIGIN_TOKEN,
        claimed_time=None if statement is None else statement.claimed_time,
        signing_certificate=None if statement is None else statement.signing_certificate,
        time_stamp_required=statement is not None and statement.time_stamp_required,
    )


def _discloser(opened: OpenedPack) -> SignedDocument:
    statement = opened.statement
    archive = opened.archive
    return SignedDocument(
        whose="discloser",
        statement=opened.statement_bytes,
        signature=optional_member(archive, layout.DISCLOSURE_SIGNATURE, MAX_SIGNATURE_BYTES),
        token=optional_member(archive, layout.DISCLOSURE_TOKEN, MAX_TOKEN_BYTES),
        statement_name=layout.DISCLOSURE_STATEMENT,
        signature_name=layout.DISCLOSURE_SIGNATURE,
        token_name=layout.DISCLOSURE_TOKEN,
        claimed_time=None if statement is None else statement.claimed_time,
        signing_certificate=None if statement is None else statement.signing_certificate,
        time_stamp_required=statement is not None and statement.time_stamp_required,
    )


def _joined(sealer: Step, discloser: Step) -> Step:
    """One step that says both, with the worse of the two outcomes."""
    outcomes = (sealer.outcome, discloser.outcome)
    worst = next(one for one in _WORST_FIRST if one in outcomes)
    pending = [
        step.next_step
        for step in (sealer, discloser)
        if step.next_step is not None and step.outcome is worst
    ]
    return Step(
        number=sealer.number,
        outcome=worst,
        examined=f"sealer: {sealer.examined}; discloser: {discloser.examined}",
        faults=(*sealer.faults, *discloser.faults),
        next_step=pending[0] if pending else None,
    )


def _certificates(
    sealer: SigningResult, discloser: SigningResult, options: Options
) -> tuple[NamedCertificate, ...]:
    named: list[tuple[str, x509.Certificate]] = []
    for role, result in (("sealer's", sealer), ("discloser's", discloser)):
        if result.certificate is not None:
            named.append((f"{role} signing certificate", result.certificate))
    roles: Sequence[tuple[str, tuple[x509.Certificate, ...]]] = (
        ("anchor", options.trust.anchors),
        ("time-stamp anchor", options.trust.tsa_anchors),
    )
    named.extend((role, one) for role, anchors in roles for one in anchors)
    return tuple(
        NamedCertificate(
            role=role,
            subject=name_of(certificate),
            fingerprint=grouped(fingerprint(certificate)),
        )
        for role, certificate in named
    )
