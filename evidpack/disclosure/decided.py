"""What decisions must be before a pack is made of them: complete, each by whom it needs, and without
one that gives away what another withholds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from evidpack.disclosure.concern import find_concern
from evidpack.disclosure.decisions import UNDECIDED, Decisions, format_ranges
from evidpack.disclosure.describing import describe
from evidpack.disclosure.proposing import propose
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.errors import UsageError
from evidpack.proof.accounting import AccountingLine, Became

_SHOWN: Final = 50


def require_decided(bundle: SealedBundle, decisions: Decisions) -> None:
    """Raises UsageError unless the decisions are for this seal, about each entry once, and none
    is left undecided; what is marked must be decided by itself."""
    case = decisions.case
    if case.statement != bundle.statement_sha256.hex() or case.day != bundle.statement.day:
        raise UsageError(
            "these decisions are about another seal",
            path=decisions.path,
            expected=f"{bundle.statement.day}, {bundle.statement_sha256.hex()}",
            observed=f"{case.day}, {case.statement}",
            hint="Draft decisions for this bundle: evidpack decide",
        )
    decided = decisions.decisions
    missing = [number for number in range(bundle.count) if number not in decided]
    if missing:
        raise UsageError(
            f"{len(missing)} sealed entries stand in no decision",
            path=decisions.path,
            expected=f"every entry from 0 to {bundle.count - 1}, exactly once",
            observed=f"nothing about {format_ranges(missing)[:400]}",
        )
    strange = sorted(
        number
        for number in {*decided.keys(), *decisions.redactions.keys()}
        if number >= bundle.count
    )
    if strange:
        raise UsageError(
            "there are decisions about entries that were not sealed",
            path=decisions.path,
            line=decided[strange[0]].line if strange[0] in decided else None,
            expected=f"entries from 0 to {bundle.count - 1}",
            observed=format_ranges(strange)[:400],
        )
    _require_none_undecided(bundle, decisions)


def _require_none_undecided(bundle: SealedBundle, decisions: Decisions) -> None:
    waiting = [one for one in decisions.decisions.values() if one.what == UNDECIDED]
    if waiting:
        listed = [
            f"line {one.line}: entry {one.entry}, {describe_entry(bundle.entry(one.entry))}"
            for one in sorted(waiting, key=lambda one: one.entry)[:_SHOWN]
        ]
        if len(waiting) > _SHOWN:
            listed.append(f"… and {len(waiting) - _SHOWN} more")
        raise UsageError(
            f"{len(waiting)} entries are undecided, so no pack is made",
            path=decisions.path,
            hint="Decide each:\n" + "\n".join(listed),
        )
    concern = find_concern(bundle, decisions.case.captures)
    for entry in bundle.entries():
        decision = decisions.decisions[entry.number]
        if not decision.alone and propose(entry, concern, frozenset()).marked:
            raise UsageError(
                f"entry {entry.number} may undermine or assist, and is decided with others",
                path=decisions.path,
                line=decision.line,
                expected=f"an [[entry]] of its own for {describe_entry(entry)}",
                observed="a [[class]]",
                hint=f'[[entry]]\nentry = {entry.number}\nuse = "unused"\ndecision = "release"\n'
                'reason = "may-assist"',
            )


def describe_entry(entry: SealedEntry) -> str:
    """What an entry is, from all its values: for the person who decides."""
    return describe(entry.kind, entry.values, whole_paths=True)


def require_no_open_door(
    bundle: SealedBundle, revealed: Sequence[tuple[int, AccountingLine]]
) -> None:
    """A file released whole holds all its rows: none of them may be withheld or redacted.

    `revealed` are numbers and lines of what is opened.  Raises UsageError.
    """
    whole = {
        number
        for number, line in revealed
        if line.kind == "file" and line.became is Became.RELEASED
    }
    open_ = {number for number, line in revealed if line.became is Became.RELEASED}
    shut: dict[int, list[int]] = {}
    for entry in bundle.entries():
        source = entry.values.get("source_entry")
        if isinstance(source, int) and source in whole and entry.number not in open_:
            shut.setdefault(source, []).append(entry.number)
    if shut:
        file, rows = next(iter(shut.items()))
        raise UsageError(
            f"entry {file} is released whole, and rows of it are withheld or redacted",
            expected="all its rows released, or the file not",
            observed=f"entries {format_ranges(rows)[:300]} are not",
            hint=f"Withhold entry {file}: the rows of it that are released are in the pack, each "
            "proved. Or release those rows too.",
        )
