"""Verifying a bundle: steps 1 to 8 in order, each independent step even where another fails."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import BinaryIO

from evidpack import __version__
from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.container.bag import BagFault, hash_members, require_bag
from evidpack.container.zip_reader import read_archive
from evidpack.container.zip_writer import Written
from evidpack.errors import ContainerError, EvidpackError, ProofError
from evidpack.limits import MAX_SIGNATURE_BYTES, MAX_STATEMENT_BYTES, MAX_TOKEN_BYTES
from evidpack.proof.statement import NEWER_RELEASE, SealStatement, parse_statement
from evidpack.trust.fingerprints import fingerprint, grouped, name_of
from evidpack.verifying.ledger_walk import LedgerWalk, compare_contents, walk_ledger
from evidpack.verifying.report import (
    Answer,
    Answers,
    Fault,
    NamedCertificate,
    Report,
    Step,
    StepOutcome,
    fault_from,
)
from evidpack.verifying.signing_steps import (
    SignedDocument,
    SigningResult,
    Trust,
    examine_signing,
    statement_digest,
)

ASK_AGAIN = (
    "Keep this file as it is, and ask whoever gave it to you for it again, from where it was "
    "first kept; compare the digests of the two."
)


def next_after(faults: Sequence[Fault]) -> str | None:
    """What to do about faults: a newer format is no sign that anything was changed."""
    if not faults:
        return None
    newer = any(fault.hint == NEWER_RELEASE for fault in faults)
    return NEWER_RELEASE if newer else ASK_AGAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the verifier chose.

    `recheck` re-reads the originals (step 8).  `time_stamp` is a token kept apart from the
    bundle.  `now` is the verifier's clock, reported and used for nothing else.
    """

    now: datetime
    trust: Trust = field(default_factory=Trust)
    time_stamp: bytes | None = None
    accept_claimed_time: bool = False
    recheck: bool = True
    file_sha256: str | None = None
    on_bytes: Callable[[int], None] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedBundle:
    """A bundle after steps 1 to 4: the archive, what was signed, and what the ledger says."""

    archive: Archive
    statement: SealStatement | None
    statement_bytes: bytes
    walk: LedgerWalk | None
    digests: Mapping[str, bytes]
    steps: tuple[Step, ...]


def verify_bundle(
    stream: BinaryIO, *, path: str, size: int, options: Options, archive: Archive | None = None
) -> Report:
    """Verify a bundle from its bytes, or from an archive whose structure was checked already.

    Faults are in the report; only a file that cannot be read at all raises OSError.
    """
    opened = open_bundle(stream, path=path, on_bytes=options.on_bytes, archive=archive)
    if isinstance(opened, Step):
        return stopped(opened, path=path, size=size, options=options)
    signing = examine_signing(_document(opened, options.time_stamp), options.trust)
    recheck = _recheck_step(opened, options)
    accounting = Step(
        number=9,
        outcome=StepOutcome.NOT_APPLICABLE,
        examined="a bundle holds everything; only packs account for what they withhold",
    )
    return Report(
        path=path,
        size=size,
        sha256=options.file_sha256,
        kind="bundle",
        reference=opened.archive.top,
        statement_sha256=statement_digest(opened.statement_bytes),
        verified_at=options.now,
        evidpack_version=__version__,
        steps=(*opened.steps, *signing.steps, recheck, accounting),
        answers={"sealer": signing.answers},
        certificates=_certificates(signing, options.trust),
        accept_claimed_time=options.accept_claimed_time,
        revocation_checked=bool(options.trust.revocation_lists),
    )


def open_bundle(
    stream: BinaryIO,
    *,
    path: str,
    on_bytes: Callable[[int], None] | None = None,
    archive: Archive | None = None,
    compared: Mapping[str, Written] | None = None,
) -> OpenedBundle | Step:
    """Steps 1 to 4. A failed step 1 is returned alone: nothing after it would mean anything.

    `compared` is for the sealer alone: members that it read back as it wrote them
    (`hash_members`).
    """
    try:
        archive = archive or read_archive(stream, path=path)
        _require_order(archive)
        statement_bytes = archive.read(layout.STATEMENT, limit=MAX_STATEMENT_BYTES)
    except ContainerError as error:
        return Step(
            number=1,
            outcome=StepOutcome.FAILS,
            examined="the file cannot be read in one way only, so nothing in it was examined",
            faults=(fault_from(error, path),),
            next_step=ASK_AGAIN,
        )
    step_1 = one_reading(archive)
    digests, step_2 = examine_bag(archive, on_bytes, compared)
    statement, walk, step_3 = _examine_ledger(archive, statement_bytes)
    step_4 = _examine_contents(archive, statement, walk, digests)
    return OpenedBundle(
        archive=archive,
        statement=statement,
        statement_bytes=statement_bytes,
        walk=walk,
        digests=digests,
        steps=(step_1, step_2, step_3, step_4),
    )


def _require_order(archive: Archive) -> None:
    """Payload by name, then the other files in the order of the format: one archive for one day."""
    names = [member.name for member in archive.members]
    payload = sorted(name for name in names if name.startswith(layout.DATA))
    tags = [name for name in layout.BUNDLE_TAG_ORDER if name in archive]
    known = [
        name for name in names if name.startswith(layout.DATA) or name in layout.BUNDLE_TAG_ORDER
    ]
    for found, expected in zip(known, payload + tags, strict=True):
        if found != expected:
            raise ContainerError(
                "the members are not in the order of the format",
                path=archive.path,
                expected=expected,
                observed=found,
            )


def one_reading(archive: Archive) -> Step:
    """Step 1 of an archive that the strict reader has read."""
    size = sum(member.size for member in archive.members)
    return Step(
        number=1,
        outcome=StepOutcome.HOLDS,
        examined=f"{len(archive.members)} members, {size} bytes, one reading only",
    )


def examine_bag(
    archive: Archive,
    on_bytes: Callable[[int], None] | None,
    compared: Mapping[str, Written] | None = None,
) -> tuple[Mapping[str, bytes], Step]:
    """Step 2: every file listed once, every digest right, nothing else there."""
    found: list[BagFault] = []
    digests = hash_members(archive, on_bytes=on_bytes, faults=found, compared=compared)
    found.extend(require_bag(archive, digests))
    faults = tuple(
        Fault(item=one.item, message=one.message, expected=one.expected, observed=one.observed)
        for one in found
    )
    return digests, Step(
        number=2,
        outcome=StepOutcome.FAILS if faults else StepOutcome.HOLDS,
        examined=f"{len(digests)} files against the manifests (RFC 8493), every file listed once",
        faults=faults,
        next_step=next_after(faults),
    )


def _examine_ledger(
    archive: Archive, statement_bytes: bytes
) -> tuple[SealStatement | None, LedgerWalk | None, Step]:
    """Step 3: entries canonical; chain head and tree root as signed."""
    statement: SealStatement | None = None
    walk: LedgerWalk | None = None
    faults: list[Fault] = []
    try:
        statement = parse_statement(statement_bytes, path=layout.STATEMENT)
        if statement.day != archive.top:
            raise ProofError(
                "the archive's folder is not named for the day that was signed",
                path=archive.top,
                expected=statement.day,
                observed=archive.top,
            )
        ledger = archive.open(archive.member(layout.LEDGER))
        openings = archive.open(archive.member(layout.OPENINGS))
        walk = walk_ledger(ledger, openings, statement)
        faults.extend(walk.ledger_faults)
    except (ProofError, ContainerError) as error:
        faults.append(fault_from(error, layout.STATEMENT))
    counted = 0 if walk is None else walk.entries
    return (
        statement,
        walk,
        Step(
            number=3,
            outcome=StepOutcome.FAILS if faults else StepOutcome.HOLDS,
            examined=f"{counted} entries give the chain head and the tree root that were signed"
            if not faults
            else "the ledger is not the one that was signed",
            faults=tuple(faults),
            next_step=next_after(faults),
        ),
    )


def _examine_contents(
    archive: Archive,
    statement: SealStatement | None,
    walk: LedgerWalk | None,
    digests: Mapping[str, bytes],
) -> Step:
    """Step 4: files against entries, commitments against openings."""
    if statement is None or walk is None:
        return Step(
            number=4,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined="contents were not examined: the ledger cannot be read",
        )
    sizes = {member.name: member.size for member in archive.members}
    compare_contents(walk, statement, digests, sizes)
    faults = tuple(walk.content_faults)
    return Step(
        number=4,
        outcome=StepOutcome.FAILS if faults else StepOutcome.HOLDS,
        examined=f"{len(walk.files)} files and {walk.entries} entries opened against what was "
        "committed",
        faults=faults,
        next_step=next_after(faults),
    )


def _document(opened: OpenedBundle, time_stamp: bytes | None) -> SignedDocument:
    statement = opened.statement
    return SignedDocument(
        whose="sealer",
        statement=opened.statement_bytes,
        signature=optional_member(opened.archive, layout.SIGNATURE, MAX_SIGNATURE_BYTES),
        token=optional_member(opened.archive, layout.TOKEN, MAX_TOKEN_BYTES) or time_stamp,
        statement_name=layout.STATEMENT,
        signature_name=layout.SIGNATURE,
        token_name=layout.TOKEN,
        claimed_time=None if statement is None else statement.claimed_time,
        signing_certificate=None if statement is None else statement.signing_certificate,
        time_stamp_required=statement is not None and statement.time_stamp_required,
    )


def optional_member(archive: Archive, name: str, limit: int) -> bytes | None:
    """A small member's bytes, or None where it is missing or (a fault of step 2) damaged."""
    try:
        return archive.read(name, limit=limit)
    except ContainerError:
        return None


def _recheck_step(opened: OpenedBundle, options: Options) -> Step:
    if not options.recheck:
        return Step(
            number=8,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined="the originals were not read again (--no-recheck)",
        )
    if any(step.outcome is not StepOutcome.HOLDS for step in opened.steps[2:4]):
        return Step(
            number=8,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined="the re-check was not run: ledger or contents do not hold",
        )
    from evidpack.verifying.recheck import recheck_bundle

    try:
        return recheck_bundle(opened)
    except EvidpackError as error:
        return Step(
            number=8,
            outcome=StepOutcome.FAILS,
            examined="the originals cannot be read again as they were",
            faults=(fault_from(error, path_of(opened)),),
            next_step="Ask the sealer's unit how this day was sealed, and with which release.",
        )


def path_of(opened: OpenedBundle) -> str:
    """The name by which faults of the whole bundle are reported."""
    return opened.archive.top


def _certificates(signing: SigningResult, trust: Trust) -> tuple[NamedCertificate, ...]:
    named = []
    if signing.certificate is not None:
        named.append(("signing certificate", signing.certificate))
    named.extend(("anchor", one) for one in trust.anchors)
    named.extend(("time-stamp anchor", one) for one in trust.tsa_anchors)
    return tuple(
        NamedCertificate(
            role=role,
            subject=name_of(certificate),
            fingerprint=grouped(fingerprint(certificate)),
        )
        for role, certificate in named
    )


def stopped(step: Step, *, path: str, size: int, options: Options) -> Report:
    """The report where step 1 fails: the other steps are named and not examined."""
    rest = tuple(
        Step(
            number=number,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined="not examined: step 1 does not hold",
        )
        for number in range(2, 10)
    )
    nothing = Answer(
        outcome=StepOutcome.NOT_ESTABLISHED, sentence="not examined: step 1 does not hold"
    )
    return Report(
        path=path,
        size=size,
        sha256=options.file_sha256,
        kind="unreadable",
        reference=None,
        statement_sha256=None,
        verified_at=options.now,
        evidpack_version=__version__,
        steps=(step, *rest),
        answers={"sealer": Answers(signature=nothing, signer=nothing, time=nothing)},
        certificates=(),
        accept_claimed_time=options.accept_claimed_time,
    )
