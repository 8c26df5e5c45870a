"""From decisions to what a pack holds: one accounting line an entry, and what is opened of each.

Refuses, naming entries, whatever is undecided, missing or decided for another seal, and whatever
would disclose by one door what is withheld at another.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from evidpack.disclosure.closing import Closing
from evidpack.disclosure.decided import (
    describe_entry,
    require_decided,
    require_no_open_door,
)
from evidpack.disclosure.decisions import Decision, Decisions, RedactOrder
from evidpack.disclosure.describing import describe
from evidpack.disclosure.reasons import reason_sentence
from evidpack.disclosure.sealed_bundle import ProvedEntry, SealedBundle
from evidpack.intake.description import DayDescription
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import AccountingLine, Became, neutral_line

WITHDRAWN_WORDING = "Disclosed in an earlier issue, and withdrawn."
DROPPED_WORDING = "Listed in an earlier issue, and withdrawn."
CLOSED_FOR_REDACTION = "What is closed would name, or confirm a guess at, what is redacted."
# Of what was given in an earlier issue, the recipient has a copy.
_GIVEN = (Became.RELEASED, Became.REDACTED, Became.WITHDRAWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Revealed:
    """An entry that is opened, wholly or in part. `opened` are the values that the pack shows."""

    proved: ProvedEntry
    line: AccountingLine
    opened: Mapping[str, JsonValue]

    @property
    def number(self) -> int:
        """The entry's number."""
        return self.proved.entry.number

    @property
    def values(self) -> Mapping[str, JsonValue]:
        """All values of the entry, closed ones too."""
        return self.proved.entry.values


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitiveItem:
    """A withheld entry for the prosecutor's schedule, which never goes into the pack."""

    entry: int
    kind: str
    what: str
    why: str
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a pack is to hold. `lines` one an entry, `revealed` in ledger order."""

    lines: Sequence[AccountingLine]
    revealed: Sequence[Revealed]
    redactions: Mapping[int, RedactOrder]
    sensitive: Sequence[SensitiveItem]
    next_exhibit: int

    @property
    def revealed_numbers(self) -> frozenset[int]:
        """Numbers of the entries that are opened."""
        return frozenset(one.number for one in self.revealed)


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierIssue:
    """The accounting of the issue before: lines with an exhibit, by entry, and the highest
    exhibit number given so far."""

    lines: Mapping[int, AccountingLine]
    exhibits: int


NO_EARLIER_ISSUE = EarlierIssue(lines={}, exhibits=0)


def make_plan(
    bundle: SealedBundle,
    decisions: Decisions,
    *,
    earlier: EarlierIssue,
    profile: Callable[[], DayDescription | None],
) -> Plan:
    """Work out what the pack holds.

    `profile` is asked only where fields are closed.  Raises UsageError as `require_decided`, and
    where a decision cannot be carried out or would give away what another withholds.
    """
    require_decided(bundle, decisions)
    maker = _Maker(bundle, decisions, earlier, profile)
    for number in range(bundle.count):
        maker.take(number)
    require_no_open_door(bundle, [(one.number, one.line) for one in maker.revealed])
    return Plan(
        lines=maker.lines,
        revealed=maker.revealed,
        redactions=decisions.redactions,
        sensitive=maker.sensitive,
        next_exhibit=maker.next_exhibit,
    )


class _Maker:
    """Takes entry after entry."""

    def __init__(
        self,
        bundle: SealedBundle,
        decisions: Decisions,
        earlier: EarlierIssue,
        profile: Callable[[], DayDescription | None],
    ) -> None:
        self._bundle = bundle
        self._decisions = decisions
        self._earlier = earlier
        self._closing = Closing(bundle, decisions, profile)
        self.lines: list[AccountingLine] = []
        self.revealed: list[Revealed] = []
        self.sensitive: list[SensitiveItem] = []
        self.next_exhibit = earlier.exhibits + 1

    def take(self, number: int) -> None:
        """Decide the line of one entry, and what is opened of it."""
        decision = self._decisions.decisions[number]
        kind = self._bundle.statement.kind_at(number)
        if decision.what in ("release", "redact"):
            self._reveal(decision, self._bundle.proved(number))
            return
        if decision.sensitive:
            self._note_sensitive(decision, kind)
        before = self._earlier.lines.get(number)
        given = before is not None and before.became in _GIVEN
        if decision.what == "inspect" or (_described(decision) and not given):
            line = self._described(decision, kind)
        elif before is not None:
            line = self._withdrawn(before, decision)
        else:
            line = neutral_line(number, kind)
        self.lines.append(line)

    def _reveal(self, decision: Decision, proved: ProvedEntry) -> None:
        values = proved.entry.values
        closed = self._closing.closed(decision, proved.entry)
        opened = {name: value for name, value in values.items() if name not in closed}
        became = Became.REDACTED if closed else Became.RELEASED
        line = AccountingLine(
            entry=proved.entry.number,
            kind=proved.entry.kind,
            became=became,
            reason=_reason(decision, closed),
            use=decision.use,
            exhibit=self._exhibit(proved.entry.number),
            description=decision.description or describe(proved.entry.kind, opened),
            closed=tuple(sorted(closed)),
        )
        self.lines.append(line)
        self.revealed.append(Revealed(proved=proved, line=line, opened=opened))

    def _exhibit(self, number: int) -> int:
        """The exhibit number that the entry has had, or the next one."""
        before = self._earlier.lines.get(number)
        if before is not None and before.exhibit is not None:
            return before.exhibit
        self.next_exhibit += 1
        return self.next_exhibit - 1

    def _described(self, decision: Decision, kind: str) -> AccountingLine:
        if decision.description is None:
            raise self._closing.cannot(decision, "what is not shown needs a description")
        return AccountingLine(
            entry=decision.entry,
            kind=kind,
            became=Became.INSPECT if decision.what == "inspect" else Became.WITHHELD,
            reason=reason_sentence(decision.reason),
            use=decision.use,
            exhibit=self._exhibit(decision.entry),
            description=decision.description,
        )

    def _withdrawn(self, before: AccountingLine, decision: Decision) -> AccountingLine:
        """An exhibit keeps its number for ever. A sensitive one says no more than that."""
        reason = decision.reason if not decision.sensitive else "earlier-by-mistake"
        return AccountingLine(
            entry=before.entry,
            kind=before.kind,
            became=Became.WITHDRAWN,
            reason=reason_sentence(reason),
            use=before.use,
            exhibit=before.exhibit,
            description=WITHDRAWN_WORDING if before.became in _GIVEN else DROPPED_WORDING,
        )

    def _note_sensitive(self, decision: Decision, kind: str) -> None:
        case = self._decisions.case
        self.sensitive.append(
            SensitiveItem(
                entry=decision.entry,
                kind=kind,
                what=decision.description or describe_entry(self._bundle.entry(decision.entry)),
                why=decision.sensitive_reason or "",
                by=decision.by or case.decided_by,
                at=(decision.at or case.decided_at).isoformat(),
            )
        )


def _reason(decision: Decision, closed: Collection[str]) -> str:
    """Why an entry is shown, and why fields are closed that nobody asked to be."""
    reason = reason_sentence(decision.reason)
    return f"{reason} {CLOSED_FOR_REDACTION}" if closed and decision.what == "release" else reason


def _described(decision: Decision) -> bool:
    """Withheld with a description of its own: unused or relied on, and not sensitive."""
    return decision.use != "not relevant" and not decision.sensitive
