"""Is everything listed, once? Check 18, with what was discarded and what earlier runs said."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.contradictions import told_twice
from evidpack.checks.joining import identifiers_used_twice, joined_once, unread_readings
from evidpack.checks.look import Look
from evidpack.checks.loose_ends import loose_ends
from evidpack.checks.saying import Say, captures, names, spans
from evidpack.checks.undermining import Related, related_discards
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import ItemKind

_OPERATOR: Final = "The operator can say what these are; day.toml can then describe them."
_LISTED: Final = 6
SOURCE: Final = "common practice, no source"


def everything_listed(look: Look, say: Say) -> Iterator[Finding]:
    """Check 18: each file described once, counts as in the report, no row unread."""
    yield from _undescribed(look, say)
    yield from identifiers_used_twice(look, say)
    yield from joined_once(look, say)
    yield from _unreadable(look, say)
    yield from _counts(look, say)
    yield from loose_ends(look, say)
    yield from told_twice(look, say)
    yield from _discarded(look, say)
    yield from _past_runs(look, say)


def _undescribed(look: Look, say: Say) -> Iterator[Finding]:
    """Files that no table of day.toml matches."""
    exported = [item for item in look.day.items if item.origin == "export"]
    lost = sorted(item.path for item in exported if item.kind is ItemKind.UNDESCRIBED)
    if lost:
        verb = "is" if len(lost) == 1 else "are"
        yield say.query(
            "day",
            f"{len(lost)} of {len(exported)} files of the export {verb} not described: "
            f"{names(lost, listed=_LISTED)}.",
            _OPERATOR,
            measured=len(lost),
            limit=0,
            source=SOURCE,
        )
    elif exported:
        yield say.passed(
            "day",
            f"All {len(exported)} files of the export are described, each once.",
            measured=len(exported),
            source=SOURCE,
        )


def _unreadable(look: Look, say: Say) -> Iterator[Finding]:
    rows: dict[str, list[int]] = {}
    reasons: dict[str, str] = {}
    for record in look.day.of(RecordKind.UNREADABLE):
        path = record.text("file") or record.source.path
        line = record.integer("line")
        rows.setdefault(path, []).append(0 if line is None else line)
        reasons.setdefault(path, record.text("reason") or "no reason given")
    for path in sorted(rows):
        lines = [line for line in rows[path] if line]
        where = f"Line {lines[0]}" if len(lines) == 1 else f"{len(lines)} lines ({spans(lines)})"
        sentence = f"{where} of {path} could not be read" if lines else f"{path} could not be read"
        yield say.query(
            path,
            f"{sentence}: {reasons[path]}.",
            "The maker can say how the file is to be read; the row is kept as it stands.",
            measured=len(rows[path]),
            limit=0,
            source="nothing is dropped",
        )


def _counts(look: Look, say: Say) -> Iterator[Finding]:
    unread = len(unread_readings(look))
    for record in sorted(look.day.of(RecordKind.REPORT), key=lambda one: one.source.order):
        stated = record.integer("captures")
        if stated is None:
            continue  # check 17 says where a report lacks what is asked
        session = record.text("session")
        group = look.readings
        if session is not None:
            group = look.by_session.get(session) or group.where(())
        discarded = group.column("discarded") or ()
        kept = len(group) - sum(1 for one in discarded if one is True)
        where = "of the day" if session is None else f"of session {session}"
        subject = "day report" if session is None else f"report of session {session}"
        if stated == len(group):
            yield say.passed(
                subject,
                f"The report counts {stated} captures {where}, and so does the export.",
                measured=len(group),
                limit=stated,
                unit="captures",
                source=SOURCE,
            )
        elif stated == kept:
            yield say.query(
                subject,
                f"The report counts {stated} captures {where}, which leaves out "
                f"{len(group) - kept} that were discarded.",
                "The person who wrote the report can confirm that it leaves them out.",
                measured=len(group),
                limit=stated,
                unit="captures",
                source=SOURCE,
            )
        elif len(group) < stated <= len(group) + unread:
            yield say.missing(
                subject,
                f"The report counts {stated} captures {where}; the export holds {len(group)}, and "
                f"{unread} {'row' if unread == 1 else 'rows'} of readings that could not be read.",
                "The maker can say how those rows are to be read.",
                needs="items_named",
                measured=len(group),
                limit=stated,
                unit="captures",
                told_by="18",
            )
        else:
            yield say.failed(
                subject,
                f"The report counts {stated} captures {where}, but the export holds {len(group)}.",
                "The operator can say where the others are.",
                measured=len(group),
                limit=stated,
                unit="captures",
                source=SOURCE,
            )


def _discarded(look: Look, say: Say) -> Iterator[Finding]:
    window = look.rules.value("discarded_window")
    for related in related_discards(look):
        yield say.passed(
            captures([related.number]),
            f"Capture {related.number} was discarded by the operator{_beside(related)}; it is "
            "listed, and is to be considered for disclosure.",
            measured=[*sorted({*related.same_plate, *related.near})],
            rule=window,
            undermines=True,
        )


def _beside(related: Related) -> str:
    parts = []
    if related.same_plate:
        parts.append(f"the same registration mark as {captures(related.same_plate)}")
    if related.near:
        parts.append(f"near in time to {captures(related.near)} of its session")
    return f" ({'; '.join(parts)})" if parts else ""


def _past_runs(look: Look, say: Say) -> Iterator[Finding]:
    runs = look.day.of(RecordKind.PAST_RUN)
    broken = [
        number for run in runs if run.text("chain") == "broken" and (number := run.integer("run"))
    ]
    if broken:
        yield say.query(
            "run log",
            f"The run log does not hang together at run {spans(broken)}: a line was changed, added "
            "or taken out.",
            "Whoever keeps the day's folder can say what happened to the run log.",
            measured=len(broken),
            limit=0,
            source="each line holds the SHA-256 of the line before it",
        )
    odd = [
        number
        for run in runs
        if (run.integer("adverse") or 0) > 0 and (number := run.integer("run"))
    ]
    if odd:
        yield say.passed(
            "run log",
            f"{len(odd)} earlier {'run' if len(odd) == 1 else 'runs'} of the checks had adverse "
            f"findings (run {spans(odd)}); superseded by this one, and to be considered for "
            "disclosure. What they said and this one does not is said beside it.",
            measured=len(odd),
            source=SOURCE,
            undermines=True,
        )
