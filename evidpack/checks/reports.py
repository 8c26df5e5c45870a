"""Is the day report complete and signed? Check 17."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, names
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_OPERATOR: Final = "The person who wrote the report can supply it."


def report_complete(look: Look, say: Say) -> Iterator[Finding]:
    """Check 17: all fields, signature and date; a query where there is more than one version."""
    reports = sorted(look.day.of(RecordKind.REPORT), key=lambda one: one.source.order)
    named = {record.text("session") for record in reports}
    for session in look.sessions:
        if None not in named and session.id not in named:
            yield say.missing(
                session.subject,
                f"There is no day report for session {session.id}.",
                "The operator can supply the report.",
                needs="report",
            )
    if not reports and not look.sessions:
        yield say.missing(
            "day", "There is no day report.", "The operator can supply the report.", needs="report"
        )
    for record in reports:
        yield from _fields(look, say, record)
    yield from _versions(say, reports)
    scans = [record for record in reports if record.text("document") is not None]
    if scans:
        yield say.missing(
            "day",
            "Whether a scanned report was edited before it reached us can't be told from it.",
            "The person who signed can confirm it in a statement.",
            needs="report_unaltered",
            measured=len(scans),
        )


def _subject(record: Record) -> str:
    session = record.text("session")
    version = record.text("version")
    name = "day report" if session is None else f"report of session {session}"
    return name if version is None else f"{name}, version {version}"


def _fields(look: Look, say: Say, record: Record) -> Iterator[Finding]:
    rule = look.rules.value("report_fields")
    absent = [name for name in rule.texts if name not in record.values]
    subject = _subject(record)
    if absent:
        words = {"signed_by": "who signed it", "signed": "when it was signed"}
        yield say.failed(
            subject,
            f"The {subject} does not state: {names(words.get(name, name) for name in absent)}.",
            _OPERATOR,
            measured=[name for name in rule.texts if name not in absent],
            rule=rule,
        )
        return
    yield say.passed(
        subject,
        f"The {subject} is complete and signed by {record.text('signed_by') or 'a named person'}."
        if "signed_by" in record.values
        else f"The {subject} states all that is asked.",
        measured=[*rule.texts],
        rule=rule,
    )


def _versions(say: Say, reports: list[Record]) -> Iterator[Finding]:
    found: dict[str | None, list[Record]] = {}
    for record in reports:
        found.setdefault(record.text("session"), []).append(record)
    for session, group in sorted(found.items(), key=lambda pair: str(pair[0])):
        if len(group) > 1:
            subject = "day report" if session is None else f"report of session {session}"
            versions = [record.text("version") or "without version" for record in group]
            yield say.query(
                subject,
                f"There are {len(group)} versions of the {subject}: {names(versions)}.",
                "The person who wrote them can say what was changed, when and why.",
                measured=[*versions],
                limit=1,
                source="common practice, no source",
            )
