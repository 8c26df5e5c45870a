"""Steps 5, 6 and 7: the signature, the signer, and the time, kept apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from cryptography import x509

from evidpack.errors import TrustError
from evidpack.proof.digests import sha256
from evidpack.trust.cms import Signature, parse_signature, require_signature, require_signer
from evidpack.trust.fingerprints import fingerprint, grouped, name_of
from evidpack.trust.revocation import require_not_revoked
from evidpack.trust.sheet import key_fingerprint
from evidpack.trust.timestamps import (
    parse_token,
    require_claim_before,
    require_imprint,
    require_token,
)
from evidpack.verifying.report import Answer, Answers, Fault, Step, StepOutcome, fault_from


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedDocument:
    """A statement with its signature and token, as bytes, and what the statement claims.

    `whose` is ``sealer`` or ``discloser``; the names are those of the files, for faults.  What the
    statement claims is None where it cannot be read.
    """

    whose: str
    statement: bytes
    signature: bytes | None
    token: bytes | None
    statement_name: str
    signature_name: str
    token_name: str
    claimed_time: datetime | None
    signing_certificate: bytes | None
    time_stamp_required: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """What the verifier brings: anchors for signers and time-stamp authorities, and revocation
    lists."""

    anchors: tuple[x509.Certificate, ...] = ()
    tsa_anchors: tuple[x509.Certificate, ...] = ()
    revocation_lists: tuple[x509.CertificateRevocationList, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningResult:
    """Steps 5, 6 and 7 with the three answers and the signing certificate."""

    steps: tuple[Step, Step, Step]
    answers: Answers
    certificate: x509.Certificate | None


def examine_signing(document: SignedDocument, trust: Trust) -> SigningResult:
    """Judge one signed statement. Collects faults; raises nothing of evidpack's own."""
    signature, signature_step = _examine_signature(document)
    time_step, moment = _examine_time(document, trust, signature)
    signer_step = _examine_signer(document, trust, signature, moment)
    answers = Answers(
        signature=Answer(outcome=signature_step.outcome, sentence=signature_step.examined),
        signer=Answer(outcome=signer_step.outcome, sentence=signer_step.examined),
        time=Answer(outcome=time_step.outcome, sentence=time_step.examined),
    )
    return SigningResult(
        steps=(signature_step, signer_step, time_step),
        answers=answers,
        certificate=None if signature is None else signature.certificate,
    )


def _examine_signature(document: SignedDocument) -> tuple[Signature | None, Step]:
    """Step 5: the bytes of the statement were signed by the key of the certificate they name."""
    signature: Signature | None = None
    faults: list[Fault] = []
    if document.signature is None:
        faults.append(Fault(item=document.signature_name, message="the signature is missing"))
    else:
        try:
            signature = parse_signature(document.signature, path=document.signature_name)
            require_signature(signature, document.statement)
        except TrustError as error:
            fault = fault_from(error, document.signature_name)
            message = f"not a valid signature over {document.statement_name}: {fault.message}"
            faults.append(replace(fault, message=message))
    if signature is not None:
        found = fingerprint(signature.certificate)
        if document.signing_certificate is not None and found != document.signing_certificate:
            faults.append(
                Fault(
                    item=document.signature_name,
                    message="the signing certificate is not the one that the statement names",
                    expected=document.signing_certificate.hex(),
                    observed=found.hex(),
                )
            )
    if faults:
        return signature, Step(
            number=5,
            outcome=StepOutcome.FAILS,
            examined=f"the signature over {document.statement_name} is not valid",
            faults=tuple(faults),
            next_step="Ask whoever gave you this file for it again, from where it was first kept.",
        )
    return signature, Step(
        number=5,
        outcome=StepOutcome.HOLDS,
        examined=f"the signature over {document.statement_name} is valid",
    )


def _examine_time(
    document: SignedDocument, trust: Trust, signature: Signature | None
) -> tuple[Step, datetime | None]:
    """Step 7, and the time at which the signer's path is to be checked."""
    claimed = document.claimed_time
    if document.signature is None or signature is None or claimed is None:
        return _not_examined(
            7, "the time was not examined: the signature or the statement cannot be read"
        ), claimed
    if document.token is None:
        return _without_token(document, claimed), claimed
    try:
        token = parse_token(document.token, path=document.token_name)
        require_imprint(token, document.signature)
        require_claim_before(token, claimed)
    except TrustError as error:
        return _time_fails(fault_from(error, document.token_name)), claimed
    when = token.gen_time.isoformat()
    if not trust.tsa_anchors:
        return (
            Step(
                number=7,
                outcome=StepOutcome.NOT_ESTABLISHED,
                examined=f"a time stamp of {when} covers this signature, but no authority "
                "that you trust was given to check it with",
                next_step="Ask for the time-stamp authority's root certificate, from the authority "
                "itself or from the sealer's unit by another way than this file, compare its "
                "fingerprint, and give it with --tsa-anchor.",
            ),
            claimed,
        )
    try:
        require_token(token, document.signature, trust.tsa_anchors)
    except TrustError as error:
        return _time_fails(fault_from(error, document.token_name)), claimed
    return (
        Step(
            number=7,
            outcome=StepOutcome.HOLDS,
            examined=f"the signature existed at {when}, by a time stamp from "
            f"{name_of(token.tsa_certificate)}",
        ),
        token.gen_time,
    )


def _without_token(document: SignedDocument, claimed: datetime) -> Step:
    if document.time_stamp_required:
        return _time_fails(
            Fault(
                item=document.token_name,
                message="the statement says that a time stamp must accompany it, and there is none",
                expected="a time-stamp token",
                observed="none",
            )
        )
    return Step(
        number=7,
        outcome=StepOutcome.NOT_ESTABLISHED,
        examined=f"no time stamp: {claimed.isoformat()} is the time as claimed by the {document.whose}",
        next_step="If the time matters, ask the unit whether a time stamp was obtained apart "
        "(--time-stamp FILE), or whether the digest of the seal statement was given to anybody "
        "else on the day. --accept-claimed-time accepts the claim, and the result says so.",
    )


def _time_fails(fault: Fault) -> Step:
    return Step(
        number=7,
        outcome=StepOutcome.FAILS,
        examined="the time stamp does not establish a time for this signature",
        faults=(fault,),
        next_step="Ask the sealer's unit for the bundle again, and check that the anchor you gave "
        "is that of the time-stamp authority it used.",
    )


def _examine_signer(
    document: SignedDocument,
    trust: Trust,
    signature: Signature | None,
    moment: datetime | None,
) -> Step:
    """Step 6: from the signing certificate to an anchor that the verifier gave."""
    if signature is None or moment is None:
        return _not_examined(
            6, "the signer was not examined: the signature or the statement cannot be read"
        )
    subject = name_of(signature.certificate)
    shown = grouped(key_fingerprint(signature.certificate.public_key()))
    if not trust.anchors:
        return Step(
            number=6,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined=f"signed with a certificate in the name of {subject} (key fingerprint {shown}); "
            "no anchor was given, so nothing says that the name is true",
            next_step=f"Ask the {document.whose}'s unit for its fingerprint sheet and its "
            "authority's certificate, by another way than this file; compare the fingerprint above "
            "with the sheet, then give the certificate with --anchor.",
        )
    try:
        path = require_signer(signature, trust.anchors, at=moment)
        if trust.revocation_lists:
            require_not_revoked(path, trust.revocation_lists, at=moment)
    except TrustError as error:
        return Step(
            number=6,
            outcome=StepOutcome.FAILS,
            examined=f"the certificate in the name of {subject} does not lead to an anchor you gave "
            f"(key fingerprint {shown})",
            faults=(fault_from(error, document.signature_name),),
            next_step="Compare the fingerprint with the unit's sheet. Where it differs, the file was "
            "signed by somebody else; where it agrees, ask the unit which authority issued it.",
        )
    claimed = ", the time as claimed" if moment == document.claimed_time else ""
    revocation = "" if trust.revocation_lists else "; revocation was not checked (no --crl)"
    return Step(
        number=6,
        outcome=StepOutcome.HOLDS,
        examined=f"signed by {subject} (key fingerprint {shown}), certified by "
        f"{name_of(path[-1])}, valid at {moment.isoformat()}{claimed}{revocation}",
    )


def _not_examined(number: int, why: str) -> Step:
    return Step(number=number, outcome=StepOutcome.NOT_ESTABLISHED, examined=why)


def statement_digest(statement: bytes) -> str:
    """SHA-256 of the statement's bytes in hex: the name by which a seal is referred to."""
    return sha256(statement).hex()
