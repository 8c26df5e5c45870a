"""decisions.toml: what a person decided about every sealed entry (docs/disclosure.md).

Two questions an entry: its *use* (relied on, unused, not relevant) and what *happens* to it
(release, redact, withhold, inspect).  Entries may be decided together as a class, but those marked
"may undermine or assist" need a decision each.  Faults are collected, each with its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.disclosure.ranges import format_ranges, parse_ranges
from evidpack.disclosure.redact_tables import RedactOrder, read_redact, read_time
from evidpack.errors import ProofError
from evidpack.intake.faults import Faults, TableReader
from evidpack.intake.toml_lines import read_toml
from evidpack.intake.toml_text import quoted
from evidpack.proof.accounting import USES

__all__ = [
    "FORMAT",
    "UNDECIDED",
    "WHAT",
    "Case",
    "Decision",
    "Decisions",
    "RedactOrder",
    "close_line",
    "format_ranges",
    "load_decisions",
    "parse_ranges",
]

FORMAT: Final = "evidpack-decisions-1"
UNDECIDED: Final = "undecided"
WHAT: Final = ("release", "redact", "withhold", "inspect")

_HEX64: Final = re.compile(r"[0-9a-f]{64}")
_CASE_KEYS: Final = frozenset(
    {"day", "statement", "captures", "case", "recipient", "decided_by", "decided_at"}
)
_SHARED_KEYS: Final = frozenset(
    {"use", "decision", "reason", "description", "by", "at", "proposed"}
)
_CLASS_KEYS: Final = _SHARED_KEYS | {"class", "entries"}
_ENTRY_KEYS: Final = _SHARED_KEYS | {
    "entry", "what", "marked", "close", "sensitive", "sensitive_reason",
}  # fmt: skip
_DECISION_HINT: Final = 'decision = "release", "redact", "withhold" or "inspect"'
_USE_HINT: Final = 'use = "relied on", "unused" or "not relevant"'
_REASON_HINT: Final = 'reason = "concerns-capture", or a reason in your own words'


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """The ``[pack]`` table: for which seal, case and recipient, and who decided when."""

    day: str
    statement: str
    captures: tuple[str, ...]
    case: str
    recipient: str
    decided_by: str
    decided_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What was decided of one entry.

    `what` is one of `WHAT` or undecided; `close` names fields that stay closed where it is redact;
    `alone` says that the entry was decided by itself; `line` is where in decisions.toml.
    """

    entry: int
    use: str
    what: str
    reason: str
    description: str | None
    close: tuple[str, ...]
    sensitive_reason: str | None
    by: str | None
    at: datetime | None
    alone: bool
    line: int | None

    @property
    def sensitive(self) -> bool:
        """Whether it goes to the prosecutor's schedule and looks like any other withheld one."""
        return self.sensitive_reason is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """A decisions.toml that was read. `decisions` by entry, `redactions` by entry."""

    path: str
    case: Case
    decisions: Mapping[int, Decision]
    redactions: Mapping[int, RedactOrder]


def close_line(fields: Iterable[str]) -> str:
    """The line of an ``[[entry]]`` that keeps these fields closed."""
    return f"close = [{', '.join(quoted(name) for name in fields)}]"


def load_decisions(data: bytes, *, path: str) -> Decisions:
    """Read decisions.toml.

    Raises DescriptionFaultsError with every fault, its line and a correct example.  Whether the
    entries are those of a bundle, and whether all is decided, is `plan.require_decided`'s to say.
    """
    faults = Faults()
    toml = read_toml(data, path=path)
    top = TableReader(toml, (), toml.values, faults)
    top.only({"format", "pack", "class", "entry", "redact"}, what="decisions.toml")
    if top.text("format", required=True, hint=f'format = "{FORMAT}"') not in (FORMAT, None):
        top.fault("the format is another", name="format", hint=f'format = "{FORMAT}"')
    case = _read_case(top)
    decisions: dict[int, Decision] = {}
    for table in top.tables("class", hint='[[class]]\nclass = "…"\nentries = "3-7, 12"'):
        for decision in _read_class(table):
            _keep(decisions, decision, table)
    for table in top.tables("entry", hint="[[entry]]\nentry = 12"):
        for decision in _read_entry(table):
            _keep(decisions, decision, table)
    redactions: dict[int, RedactOrder] = {}
    for table in top.tables("redact", hint="[[redact]]\nentry = 12\nboxes = [[10, 20, 90, 30]]"):
        order = read_redact(table)
        if order is not None:
            if order.entry in redactions:
                table.fault(
                    f"entry {order.entry} has two [[redact]] tables",
                    name="entry",
                    hint="put all boxes and polygons into one",
                )
            redactions[order.entry] = order
    faults.raise_any()
    if case is None:  # its faults were raised
        raise AssertionError
    return Decisions(path=path, case=case, decisions=decisions, redactions=redactions)


def _keep(decisions: dict[int, Decision], decision: Decision, table: TableReader) -> None:
    earlier = decisions.get(decision.entry)
    if earlier is not None:
        table.fault(
            f"entry {decision.entry} is decided twice, at line {earlier.line} already",
            hint="take it out of one of the two; each entry is decided exactly once",
        )
        return
    decisions[decision.entry] = decision


def _read_case(top: TableReader) -> Case | None:
    table = TableReader(top.toml, ("pack",), top.table.get("pack", {}), top.faults)
    before = len(top.faults)
    table.only(_CASE_KEYS, what="[pack]")
    statement = table.text("statement", required=True, hint='statement = "64 hex digits"') or ""
    if statement and not _HEX64.fullmatch(statement):
        table.fault(
            "statement is no SHA-256 in hex", name="statement", hint="as `evidpack decide` wrote it"
        )
    found = {
        name: (table.text(name, required=True, hint=f'{name} = "…"') or "").strip()
        for name in ("day", "case", "recipient", "decided_by")
    }
    captures = table.texts("captures", hint='captures = ["C033"]') or ()
    if not captures:
        table.fault("captures of the case are missing", hint='captures = ["C033"]')
    decided_at = read_time(table, "decided_at", required=True)
    if decided_at is None or len(top.faults) > before:
        return None
    return Case(statement=statement, captures=captures, decided_at=decided_at, **found)


def _read_class(table: TableReader) -> Iterator[Decision]:
    table.only(_CLASS_KEYS, what="[[class]]")
    hint = 'entries = "3-7, 12"'
    text = table.text("entries", hint=hint)
    if text is None:
        if "entries" not in table.table:
            table.fault("entries is missing", hint=hint)
        return
    try:
        numbers = parse_ranges(text)
    except ProofError as error:
        table.fault(error.message, name="entries", hint=hint)
        return
    first = _read_shared(table, 0, alone=False)
    if first is None:
        return
    for number in numbers:
        yield _with_entry(first, number)


def _with_entry(decision: Decision, entry: int) -> Decision:
    return Decision(
        entry=entry,
        use=decision.use,
        what=decision.what,
        reason=decision.reason,
        description=decision.description,
        close=decision.close,
        sensitive_reason=decision.sensitive_reason,
        by=decision.by,
        at=decision.at,
        alone=decision.alone,
        line=decision.line,
    )


def _read_entry(table: TableReader) -> Iterator[Decision]:
    table.only(_ENTRY_KEYS, what="[[entry]]")
    number = table.integer("entry", required=True, hint="entry = 12")
    decision = _read_shared(table, number or 0, alone=True)
    if number is not None and decision is not None:
        yield decision


def _read_shared(table: TableReader, entry: int, *, alone: bool) -> Decision | None:
    """The keys that a class and a single entry have in common."""
    before = len(table.faults)
    use = table.choice("use", (*USES, UNDECIDED), required=True, hint=_USE_HINT)
    what = table.choice("decision", (*WHAT, UNDECIDED), required=True, hint=_DECISION_HINT)
    reason = table.text("reason", hint=_REASON_HINT)
    decided = UNDECIDED not in (use, what)
    if decided and not (reason or "").strip():
        table.fault("a decision needs a reason", name="reason", hint=_REASON_HINT)
    close = table.texts("close", hint='close = ["plate"]') or ()
    if close and what == "release":  # what is withheld is closed anyway
        table.fault(
            "close goes with redact",
            name="close",
            hint='decision = "redact", or take the line close = […] out',
        )
    sensitive = table.table.get("sensitive", False)
    why = table.text("sensitive_reason", hint='sensitive_reason = "…"')
    if sensitive not in (True, False):
        table.fault("sensitive is true or false", name="sensitive", hint="sensitive = true")
    if sensitive is True and (what != "withhold" or not (why or "").strip()):
        table.fault(
            "sensitive material is withheld, and says why",
            name="sensitive",
            hint='decision = "withhold"\nsensitive = true\nsensitive_reason = "…"',
        )
    by, at = table.text("by", hint='by = "…"'), read_time(table, "at")
    description = table.text("description", hint='description = "…"')
    if use is None or what is None or len(table.faults) > before:
        return None
    return Decision(
        entry=entry,
        use=use,
        what=what if decided else UNDECIDED,
        reason=(reason or "").strip(),
        description=(description or "").strip() or None,
        close=close,
        sensitive_reason=why.strip() if sensitive is True and why is not None else None,
        by=by,
        at=at,
        alone=alone,
        line=table.line,
    )
