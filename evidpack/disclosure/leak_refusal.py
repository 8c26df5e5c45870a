"""Refusing to make a pack that would give away what it withholds, and saying line by line what to
change in decisions.toml."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from evidpack.disclosure.decisions import Decision, Decisions, close_line
from evidpack.disclosure.leakage import Leak, Shown, Text, find_leaks
from evidpack.disclosure.plan import Plan
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.errors import EvidpackError
from evidpack.intake.toml_text import quoted
from evidpack.proof.accounting import Became

_SHOWN_ENTRIES: Final = 25


class LeakError(EvidpackError):
    """A text of the pack would hold a value that the pack withholds; `places` says where."""

    def __init__(self, leaks: Sequence[Leak], decisions: Decisions) -> None:
        what = "1 text would give" if len(leaks) == 1 else f"{len(leaks)} texts would give"
        super().__init__(
            f"{what} away what the pack withholds, so no pack is made",
            path=decisions.path,
            hint="\n".join(_advice(leaks, decisions)),
        )
        self.places = tuple(map(str, leaks))


def require_no_leak(bundle: SealedBundle, plan: Plan, decisions: Decisions) -> None:
    """Look through every text, and every opened value, of a pack that is being made.

    Raises LeakError, which names where each value stood, which entry it belongs to and what to
    write instead, and does not repeat the value.
    """
    leaks = find_leaks(
        bundle.entries(),
        [
            Shown(number=one.number, kind=one.line.kind, values=one.values, closed=one.line.closed)
            for one in plan.revealed
        ],
        [line.entry for line in plan.lines if line.became is Became.INSPECT],
        [*_case_texts(decisions), *_typed_texts(plan, decisions)],
    )
    if leaks:
        raise LeakError(leaks, decisions)


def _case_texts(decisions: Decisions) -> Iterator[Text]:
    case = decisions.case
    yield Text(place="[pack] case", text=case.case)
    yield Text(place="[pack] recipient", text=case.recipient)
    yield Text(place="[pack] decided_by", text=case.decided_by)
    for capture in case.captures:
        yield Text(place="[pack] captures", text=capture)


def _typed_texts(plan: Plan, decisions: Decisions) -> Iterator[Text]:
    """What people wrote about entries; a description made from opened values says what they say."""
    for line in plan.lines:
        if line.neutral:
            continue
        entry = line.entry
        if decisions.decisions[entry].description is not None:
            yield Text(
                place=f"description of entry {entry}", text=line.description or "", entry=entry
            )
        yield Text(place=f"reason of entry {entry}", text=line.reason, entry=entry)
    for order in plan.redactions.values():
        yield Text(
            place=f"reason of the redaction of entry {order.entry}",
            text=order.reason,
            entry=order.entry,
        )


def _advice(leaks: Sequence[Leak], decisions: Decisions) -> Iterator[str]:
    """What to change, entry by entry."""
    for leak in leaks:
        if leak.field is None:
            line = _line(decisions, leak.entry)
            yield f"{line}{leak}. Write it anew."
    by_entry: dict[int, list[Leak]] = {}
    for leak in leaks:
        if leak.field is not None and leak.entry is not None:
            by_entry.setdefault(leak.entry, []).append(leak)
    for entry, of_entry in list(by_entry.items())[:_SHOWN_ENTRIES]:
        yield from (f"{leak}." for leak in of_entry)
        yield from _closing(decisions.decisions[entry], of_entry)
        yield from _opening(decisions, {number for leak in of_entry for number in leak.withheld})
    if len(by_entry) > _SHOWN_ENTRIES:
        yield f"… and {len(by_entry) - _SHOWN_ENTRIES} entries more"


def _line(decisions: Decisions, entry: int | None) -> str:
    decision = decisions.decisions.get(entry) if entry is not None else None
    return "" if decision is None or decision.line is None else f"Line {decision.line}: "


def _closing(decision: Decision, leaks: Sequence[Leak]) -> Iterator[str]:
    """The very lines that keep the fields closed, and where they go."""
    if leaks[0].kind == "file":
        yield (
            f"  No field of a file can be closed: withhold entry {decision.entry} (line "
            f"{decision.line})."
        )
        return
    fields = {leak.field for leak in leaks if leak.field is not None}.union(decision.close)
    lines = ['decision = "redact"', close_line(sorted(fields))]
    if decision.alone:
        yield f"  In the [[entry]] at line {decision.line}, entry = {decision.entry}, write"
    else:
        yield (
            f"  In the [[class]] at line {decision.line}, take {decision.entry} out of entries, and add"
        )
        lines = [
            "[[entry]]",
            f"entry = {decision.entry}",
            f"use = {quoted(decision.use)}",
            *lines,
            'reason = "names-withheld"',
        ]
    yield from (f"    {line}" for line in lines)


def _opening(decisions: Decisions, others: Iterable[int]) -> Iterator[str]:
    """The other way out: to disclose what is named."""
    for number in sorted(others)[:_SHOWN_ENTRIES]:
        other = decisions.decisions[number]
        if other.close:
            yield f"  Or open what entry {number} keeps closed (line {other.line}: close)."
        else:
            yield f"  Or disclose entry {number} (line {other.line})."
