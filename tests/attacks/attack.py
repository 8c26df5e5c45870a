"""One attack: a file, what its verifier brings, and which step must refuse it."""

from __future__ import annotations

import io
from dataclasses import dataclass, field

from evidpack.container.aes_zip import decrypt_pack, is_encrypted
from evidpack.errors import ContainerError
from evidpack.verifying.any_file import unreadable, verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import Fault, Report, StepOutcome
from evidpack.verifying.signing_steps import Trust
from tests.bundles import VERIFIED_AT

FILE_NAME = "case.zip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Attack:
    """`family` and `kind` (its class) are where the table counts it; `name` is unique in a family.

    `step` must fail, and no other unless `alone` is False; one of that step's faults must hold
    `words`.  `answer` is the one of the three answers that must be no, as (whose, which), while
    the other two of that person are not no unless `alone` is False.  Every attack must end as
    "does not verify".
    """

    family: str
    kind: str
    name: str
    data: bytes
    step: int
    words: str = ""
    alone: bool = True
    answer: tuple[str, str] | None = None
    trust: Trust = field(default_factory=Trust)
    passphrase: str | None = None
    recheck: bool = False

    @property
    def verdict(self) -> str:
        """The only verdict that an attack may end with."""
        return "does not verify"

    @property
    def title(self) -> str:
        """Family, class and name, for messages."""
        return f"{self.family}: {self.kind}: {self.name}"


def report_on(attack: Attack) -> Report:
    """What `evidpack verify` finds out about the file, all in memory."""
    options = Options(now=VERIFIED_AT, trust=attack.trust, recheck=attack.recheck)
    stream = io.BytesIO(attack.data)
    try:
        if attack.passphrase is not None and is_encrypted(stream):
            inner = io.BytesIO()
            decrypt_pack(stream, inner, passphrase=attack.passphrase, path=FILE_NAME)
            stream = inner
        size = len(stream.getvalue())
        return verify_file(stream, path=FILE_NAME, size=size, options=options)
    except ContainerError as error:
        return unreadable(error, path=FILE_NAME, size=len(attack.data), options=options)


def shown(fault: Fault) -> str:
    """All that a fault says, on one line."""
    place = "" if fault.offset is None else f", at byte {fault.offset}"
    line = "" if fault.line is None else f", line {fault.line}"
    return f"{fault.item}{line}{place}: {fault.message} [{fault.expected} | {fault.observed}]"


def complaint(attack: Attack, report: Report) -> str | None:
    """What is wrong with how the attack was met; None where it was refused as it must be."""
    failing = [step.number for step in report.steps if step.outcome is StepOutcome.FAILS]
    told = [shown(fault) for step in report.steps for fault in step.faults]
    if report.verdict.value != attack.verdict:
        return f"ends as {report.verdict.value!r}; {told}"
    if attack.step not in failing:
        return f"step {attack.step} does not refuse it, {failing} do; {told}"
    if attack.alone and failing != [attack.step]:
        return f"steps {failing} refuse it, not {attack.step} alone; {told}"
    faults = report.step(attack.step).faults
    if not any(attack.words in shown(fault) for fault in faults):
        return f"no fault says {attack.words!r}; {told}"
    if not all(fault.item and fault.message for fault in faults):
        return f"a fault names no item; {told}"
    return _wrong_place(attack, faults) or _wrong_answer(attack, report)


def _wrong_place(attack: Attack, faults: tuple[Fault, ...]) -> str | None:
    """A fault of the whole file must say at which byte, or which member."""
    for fault in faults:
        if fault.item == FILE_NAME and fault.offset is None and attack.step == 1:
            named = "/" in f"{fault.expected}{fault.observed}" or "." in f"{fault.observed}"
            if not named and "bytes" not in f"{fault.expected}":
                return f"neither a byte nor a member is named; {shown(fault)}"
    return None


def _wrong_answer(attack: Attack, report: Report) -> str | None:
    if attack.answer is None:
        return None
    whose, which = attack.answer
    answers = report.answers[whose]
    found = {
        "signature": answers.signature.outcome,
        "signer": answers.signer.outcome,
        "time": answers.time.outcome,
    }
    if found[which] is not StepOutcome.FAILS:
        return f"the answer to {which} is {found[which]}"
    if not attack.alone:
        return None
    failing = {name for name, outcome in found.items() if outcome is StepOutcome.FAILS}
    return None if failing == {which} else f"not {which} alone is no: {found}"
