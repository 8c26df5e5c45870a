"""What earlier runs of the checks said and this one does not: superseded, never forgotten.

What was found before something was put right, under another rule set or by an older version, may
undermine or assist: each such finding is said again, marked to be considered for disclosure, under
the subject that it had, so that it is found beside the capture that it was about.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, spans
from evidpack.model.day import Day
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

SOURCE: Final = "the run log; common practice, no source: superseded findings are kept"


def superseded(day: Day, findings: Iterable[Finding]) -> tuple[Record, ...]:
    """The records of findings that earlier runs had and that are not among the adverse `findings`."""
    said = {
        (one.check, one.subject, one.outcome.value, one.sentence) for one in findings if one.adverse
    }
    return tuple(
        record
        for record in day.of(RecordKind.PAST_FINDING)
        if tuple(record.text(name) for name in ("check", "subject", "outcome", "sentence"))
        not in said
    )


def runs_text(record: Record) -> str:
    """``run 2`` or ``runs 1–3, 5``: by which runs a past finding was said."""
    listed = record.values.get("runs")
    numbers = [one for one in listed if isinstance(one, int)] if isinstance(listed, list) else []
    return f"{'run' if len(numbers) == 1 else 'runs'} {spans(numbers)}"


def said_before(
    look: Look, say: Say, findings: Iterable[Finding], *, not_asked: frozenset[str]
) -> Iterator[Finding]:
    """A finding for each superseded one. `not_asked` are the checks whose time has not come."""
    for record in superseded(look.day, findings):
        check = record.text("check") or ""
        why = (
            "this run did not ask it" if check in not_asked else "this run does not say so any more"
        )
        listed = record.values.get("runs")
        yield say.passed(
            record.text("subject") or "day",
            f"Superseded: check {check} said in {runs_text(record)} ({record.text('outcome')}): "
            f"\u201c{record.text('sentence')}\u201d; {why}. To be considered for disclosure.",
            measured=len(listed) if isinstance(listed, list) else None,
            unit="runs",
            source=SOURCE,
            undermines=True,
        )
