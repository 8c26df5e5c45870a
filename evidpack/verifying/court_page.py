"""A verification report as the court's one page shows it."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING

from evidpack.verifying.report import Fault, Report, StepOutcome, Verdict

if TYPE_CHECKING:
    from evidpack.index.report import ReportContent

SENTENCES = {
    Verdict.VERIFIED: "Verified: every step that applies holds, or says why it was not run.",
    Verdict.VERIFIED_CLAIMED_TIME: "Verified, but the time is only as claimed by whoever signed.",
    Verdict.DOES_NOT_VERIFY: "Does not verify: see each step that fails, and what to do.",
    Verdict.INTACT: "Intact: nothing was altered since it was signed, but who signed it, or when, "
    "is not established by certificates that the verifier trusts.",
}
_YES = {StepOutcome.HOLDS: "yes", StepOutcome.FAILS: "no"}


def answer_word(outcome: StepOutcome) -> str:
    """``yes``, ``no`` or ``not established``."""
    return _YES.get(outcome, "not established")


def fault_line(fault: Fault) -> str:
    """A fault on one line: item, what, expected and found."""
    line = f"{fault.place}: {fault.message}"
    if fault.expected is not None:
        line += f" (expected {fault.expected}; found {fault.observed})"
    return line


def report_content(report: Report) -> ReportContent:
    """The report in plain texts for `evidpack.index.report.build_report`."""
    # Only here, since the page's fonts and the PDF library take longer to load than a day to verify.
    from evidpack.index.report import ReportAnchor, ReportAnswer, ReportContent, ReportStep

    return ReportContent(
        file_name=PurePath(report.path).name,
        sha256=report.sha256 or "",
        size=f"{report.size:,} bytes".replace(",", " "),
        reference=report.reference or "not readable",
        verified_at=report.verified_at,
        evidpack_version=report.evidpack_version,
        verdict=report.verdict.value,
        verdict_sentence=SENTENCES[report.verdict],
        steps=[
            ReportStep(
                number=step.number,
                outcome=step.outcome.value,
                detail=step.examined,
                faults=[fault_line(fault) for fault in step.faults],
                advice=step.next_step or "",
            )
            for step in report.steps
        ],
        answers=[
            ReportAnswer(
                question=question, answer=answer_word(answer.outcome), detail=answer.sentence
            )
            for answers in report.answers.values()
            for question, answer in (
                ("Signature valid", answers.signature),
                ("Signer known", answers.signer),
                ("Time established", answers.time),
            )
        ],
        anchors=[
            ReportAnchor(name=one.subject, fingerprint=one.fingerprint, use=one.role)
            for one in report.certificates
        ],
    )
