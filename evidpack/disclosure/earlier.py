"""The issue before: its accounting goes on, its exhibits keep their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

from evidpack.container.zip_reader import read_archive
from evidpack.disclosure.decisions import Decisions
from evidpack.disclosure.plan import EarlierIssue
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.errors import UsageError
from evidpack.proof.digests import sha256
from evidpack.verifying.pack import open_pack
from evidpack.verifying.report import Step, StepOutcome


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierPack:
    """The issue before this one, as it was verified: its number, statement and accounting."""

    issue: int
    statement: bytes
    accounting: EarlierIssue


def earlier_pack(
    stream: BinaryIO, *, path: str, bundle: SealedBundle, decisions: Decisions
) -> EarlierPack:
    """The issue before, from a plain pack that must hold, be of this seal, case and recipient.

    Raises UsageError or SealError otherwise.
    """
    opened = open_pack(read_archive(stream, path=path), path=path)
    if isinstance(opened, Step) or opened.statement is None:
        raise UsageError("the earlier issue is no pack that can be read", path=path)
    for step in (*opened.steps, opened.accounting):
        if step.outcome is not StepOutcome.HOLDS:
            raise UsageError(
                f"the earlier issue does not verify (step {step.number}): "
                f"{step.faults[0].message if step.faults else step.examined}",
                path=path,
            )
    statement, case = opened.statement, decisions.case
    for what, then, now in (
        ("seal", statement.origin.hex(), bundle.statement_sha256.hex()),
        ("case", statement.case, case.case),
        ("recipient", statement.recipient, case.recipient),
    ):
        if then != now:
            raise UsageError(
                f"the earlier issue is of another {what}",
                path=path,
                expected=now,
                observed=then,
                hint="An issue follows on one for the same seal, case and recipient.",
            )
    return EarlierPack(
        issue=statement.issue,
        statement=sha256(opened.statement_bytes),
        accounting=EarlierIssue(
            lines={line.entry: line for line in opened.contents.lines if line.exhibit is not None},
            exhibits=statement.exhibits,
        ),
    )
