"""Making a pack: everything planned goes into one archive, is verified, and then gets its name."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from typing import BinaryIO, Final

from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.disclosure.decisions import Decisions
from evidpack.disclosure.leak_refusal import require_no_leak
from evidpack.disclosure.pack_writer import MadePack, PackFacts, PackOrder, PackWriter
from evidpack.disclosure.plan import (
    NO_EARLIER_ISSUE,
    Plan,
    make_plan,
)
from evidpack.disclosure.redacted_stills import RedactedStill, redact_stills
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.disclosure.soundness import ReleasedCopy, redaction_findings
from evidpack.disclosure.targets import Target
from evidpack.errors import SealError
from evidpack.intake.description import DayDescription
from evidpack.limits import COPY_BUFFER_BYTES, MAX_DESCRIPTION_BYTES
from evidpack.model.findings import Finding, Outcome
from evidpack.proof.accounting import Became
from evidpack.proof.digests import sha256
from evidpack.trust.cms import parse_signature, require_signature
from evidpack.verifying.pack import open_pack
from evidpack.verifying.released_profile import PROFILE_SOURCES, profile_description
from evidpack.verifying.report import Step, StepOutcome

__all__ = ["MadePack", "PackFacts", "PackOrder", "make_pack"]

_ALLOWANCE_BYTES: Final = 4_000_000


def make_pack(
    bundle: SealedBundle, decisions: Decisions, order: PackOrder, target: Target
) -> MadePack:
    """Make a plain pack, verify it, and give it to `target`.

    Raises UsageError where something is undecided or cannot be done as decided, LeakError where a
    text would give away what is withheld, and SealError, TrustError, ProofError or ContainerError;
    then `target` is not asked, or leaves nothing behind.
    """
    earlier = order.earlier
    plan = make_plan(
        bundle,
        decisions,
        earlier=NO_EARLIER_ISSUE if earlier is None else earlier.accounting,
        profile=lambda: _profile(bundle),
    )
    require_no_leak(bundle, plan, decisions)
    stills = redact_stills(bundle, plan, decisions.case)
    findings = _sound(stills)
    with target.begin(_space_needed(plan, stills)) as place:
        writer = PackWriter(bundle, decisions, order, plan, stills)
        statement, contents = writer.write(place.stream)
        _require_own_work(place.stream, path=target.name)
        made = MadePack(
            statement=statement,
            statement_sha256=sha256(statement.to_bytes()).hex(),
            sha256=_digest(place.stream),
            size=place.stream.seek(0, io.SEEK_END),
            plan=plan,
            contents=contents,
            encrypted=place.prepare(),
            redaction_findings=findings,
        )
        try:
            order.before_publishing(made)
            place.publish()
        except BaseException as error:
            if not place.stands:
                order.given_up(error)
            raise
    return made


def _sound(stills: Sequence[RedactedStill]) -> Sequence[Finding]:
    """Check 19 about the copies. Raises SealError where one is not fit to be given out."""
    findings = redaction_findings(
        [
            ReleasedCopy(exhibit=still.exhibit, data=still.png, record=still.record)
            for still in stills
        ]
    )
    for finding in findings:
        if finding.outcome is Outcome.FAIL:
            raise SealError(finding.sentence, path=finding.subject, hint=finding.advice)
    return findings


def _profile(bundle: SealedBundle) -> DayDescription | None:
    return profile_description(
        {
            path: bundle.read_file(path, limit=MAX_DESCRIPTION_BYTES)
            for path in PROFILE_SOURCES
            if layout.DATA + path in bundle.archive
        }
    )


def _space_needed(plan: Plan, stills: Sequence[RedactedStill]) -> int:
    sizes = [
        int(str(one.values["size"]))
        for one in plan.revealed
        if one.line.kind == "file" and one.line.became is Became.RELEASED
    ]
    pictures = sum(len(still.png) for still in stills)
    return sum(sizes) + pictures + 1_000 * len(plan.lines) + _ALLOWANCE_BYTES


def _digest(stream: BinaryIO) -> str:
    stream.seek(0)
    digest = hashlib.sha256()
    while piece := stream.read(COPY_BUFFER_BYTES):
        digest.update(piece)
    return digest.hexdigest()


def _require_own_work(stream: BinaryIO, *, path: str) -> None:
    """Verify what was just written, steps 1 to 5 and 9. Raises SealError with the first fault."""
    stream.seek(0)
    opened = open_pack(read_archive(stream, path=path), path=path)
    steps = (opened,) if isinstance(opened, Step) else (*opened.steps, opened.accounting)
    for step in steps:
        if step.outcome is not StepOutcome.HOLDS:
            fault = step.faults[0]
            raise SealError(
                f"the pack just written does not verify (step {step.number}): {fault.message}",
                path=fault.item,
                expected=fault.expected,
                observed=fault.observed,
                hint="Verify the bundle in full: what it releases may not be as it was sealed.",
            )
    if not isinstance(opened, Step):
        signature = opened.archive.read(layout.DISCLOSURE_SIGNATURE, limit=MAX_DESCRIPTION_BYTES)
        require_signature(
            parse_signature(signature, path=layout.DISCLOSURE_SIGNATURE), opened.statement_bytes
        )
