"""What a verification says: numbered steps, three answers, one verdict.

The numbers and names of the steps are the same here, in the output, in docs/format.md and in
the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from evidpack.model.values import JsonValue


class StepOutcome(StrEnum):
    """What became of one verification step."""

    HOLDS = "holds"
    FAILS = "fails"
    NOT_ESTABLISHED = "not established"
    NOT_APPLICABLE = "not applicable"


class Verdict(StrEnum):
    """The four verdicts; `exit_code` gives the number that the command line ends with."""

    VERIFIED = "verified"
    VERIFIED_CLAIMED_TIME = "verified, time only as claimed"
    DOES_NOT_VERIFY = "does not verify"
    INTACT = "intact, but signer or time not established"

    @property
    def exit_code(self) -> int:
        """0 verified, 1 does not verify, 3 intact but signer or time not established."""
        if self is Verdict.DOES_NOT_VERIFY:
            return 1
        return 3 if self is Verdict.INTACT else 0


STEP_TITLES: Final = {
    1: "container",
    2: "bag",
    3: "ledger",
    4: "contents",
    5: "signature",
    6: "signer",
    7: "time",
    8: "re-check",
    9: "accounting",
}

NOT_PROVED: Final = (
    "that the measurement was right, or that a clock was right",
    "that the export was complete or unaltered before it was sealed",
    "the order in which captures were taken: the chain fixes the order of sealing",
    "that no other seal, supplement or correction of the same day exists",
    "who was driving, or anything about guilt or admissibility",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong: the item, what was expected and what was found.

    `line` counts from 1; `offset` is in bytes, of the item or, in step 1, of the whole file.
    `hint` says what to do about this very fault.
    """

    item: str
    message: str
    expected: str | None = None
    observed: str | None = None
    line: int | None = None
    offset: int | None = None
    hint: str | None = None

    @property
    def place(self) -> str:
        """The item, with the line or the byte where it is known."""
        if self.line is not None:
            return f"{self.item}:{self.line}"
        return self.item if self.offset is None else f"{self.item}, at byte {self.offset}"

    def to_json(self) -> dict[str, JsonValue]:
        """The fault for machines."""
        return {
            "item": self.item,
            "line": self.line,
            "offset": self.offset,
            "message": self.message,
            "expected": self.expected,
            "observed": self.observed,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: what was examined, what became of it, every fault, and what to do next."""

    number: int
    outcome: StepOutcome
    examined: str
    faults: tuple[Fault, ...] = ()
    next_step: str | None = None

    @property
    def title(self) -> str:
        """The name of the step."""
        return STEP_TITLES[self.number]

    def to_json(self) -> dict[str, JsonValue]:
        """The step for machines."""
        return {
            "step": self.number,
            "title": self.title,
            "outcome": self.outcome.value,
            "examined": self.examined,
            "faults": [fault.to_json() for fault in self.faults],
            "next": self.next_step,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One of the three answers, with the sentence that says it."""

    outcome: StepOutcome
    sentence: str

    def to_json(self) -> dict[str, JsonValue]:
        """The answer for machines."""
        return {"outcome": self.outcome.value, "sentence": self.sentence}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Signature valid, signer known, time established: three answers, never one."""

    signature: Answer
    signer: Answer
    time: Answer

    def to_json(self) -> dict[str, JsonValue]:
        """The answers for machines."""
        return {
            "signature_valid": self.signature.to_json(),
            "signer_known": self.signer.to_json(),
            "time_established": self.time.to_json(),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedCertificate:
    """A certificate as it is shown: its subject and its fingerprint in groups of four."""

    role: str
    subject: str
    fingerprint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The whole verification of one file.

    `answers` is keyed by whose they are: ``sealer``, and in a pack ``discloser`` too.
    """

    path: str
    size: int
    sha256: str | None
    kind: str
    reference: str | None
    statement_sha256: str | None
    verified_at: datetime
    evidpack_version: str
    steps: tuple[Step, ...]
    answers: dict[str, Answers]
    certificates: tuple[NamedCertificate, ...]
    accept_claimed_time: bool = False
    revocation_checked: bool = False
    origin_sha256: str | None = None  # of a pack: the seal statement that it comes from

    def step(self, number: int) -> Step:
        """The step of that number. Raises KeyError where the report has none."""
        for step in self.steps:
            if step.number == number:
                return step
        raise KeyError(number)

    @property
    def verdict(self) -> Verdict:
        """Any failure: does not verify. Else the signer must be known and the time established,
        or accepted as claimed."""
        if any(step.outcome is StepOutcome.FAILS for step in self.steps):
            return Verdict.DOES_NOT_VERIFY
        integrity = {
            step.number: step.outcome for step in self.steps if step.number not in (6, 7, 8)
        }
        if any(outcome is StepOutcome.NOT_ESTABLISHED for outcome in integrity.values()):
            return Verdict.DOES_NOT_VERIFY
        if any(both.signer.outcome is not StepOutcome.HOLDS for both in self.answers.values()):
            return Verdict.INTACT
        if all(both.time.outcome is StepOutcome.HOLDS for both in self.answers.values()):
            return Verdict.VERIFIED
        return Verdict.VERIFIED_CLAIMED_TIME if self.accept_claimed_time else Verdict.INTACT

    def to_json(self) -> dict[str, JsonValue]:
        """The report for machines: the same facts as the text."""
        return {
            "file": self.path,
            "size": self.size,
            "sha256": self.sha256,
            "kind": self.kind,
            "reference": self.reference,
            "statement_sha256": self.statement_sha256,
            "origin_sha256": self.origin_sha256,
            "verified_at": self.verified_at.isoformat(),
            "evidpack": self.evidpack_version,
            "verdict": self.verdict.value,
            "exit_code": self.verdict.exit_code,
            "answers": {whose: answers.to_json() for whose, answers in self.answers.items()},
            "certificates": [
                {"role": one.role, "subject": one.subject, "fingerprint": one.fingerprint}
                for one in self.certificates
            ],
            "revocation_checked": self.revocation_checked,
            "steps": [step.to_json() for step in self.steps],
            "not_proved": list(NOT_PROVED),
        }


def fault_from(error: Exception, item: str) -> Fault:
    """A fault from one of evidpack's own errors."""
    return Fault(
        item=getattr(error, "path", None) or item,
        message=getattr(error, "message", str(error)),
        expected=getattr(error, "expected", None),
        observed=getattr(error, "observed", None),
        line=getattr(error, "line", None),
        offset=getattr(error, "offset", None),
        hint=getattr(error, "hint", None),
    )
