"""The accounting of a pack: what became of each sealed entry (docs/format.md, Accounting).

One line an entry, in ledger order, so that none is left out in silence.  What is withheld as other
people's data and what is sensitive look the same: `NEUTRAL` is the only form of both.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.members import Members
from evidpack.proof.statement import ENTRY_KINDS

MAX_EXHIBIT: Final = 10_000_000
NEUTRAL_REASON: Final = "Not due to this recipient."
NEUTRAL_WORDING: Final = (
    "Not disclosed here: data of other people, or material that is not due to this recipient."
)
USES: Final = ("relied on", "unused", "not relevant")

_BLANK: Final = re.compile(r"\s*")


class Became(StrEnum):
    """What became of an entry in a pack."""

    RELEASED = "released"  # every field is opened; a file is there byte for byte
    REDACTED = "redacted"  # some fields are closed; a still is there with regions blacked out
    INSPECT = "inspect"  # described; to be viewed by appointment
    WITHHELD = "withheld"  # described, or, without an exhibit, in the one neutral form
    WITHDRAWN = "withdrawn"  # disclosed in an earlier issue, no longer in this one


REVEALED: Final = (Became.RELEASED, Became.REDACTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountingLine:
    """One entry's line. `closed` names the fields of a redacted entry that stay closed, sorted."""

    entry: int
    kind: str
    became: Became
    reason: str
    use: str | None = None
    exhibit: int | None = None
    description: str | None = None
    closed: tuple[str, ...] = ()

    @property
    def neutral(self) -> bool:
        """Whether this is the one form that says nothing of the entry but its kind."""
        return self.became is Became.WITHHELD and self.exhibit is None

    def to_bytes(self) -> bytes:
        """The canonical JSON of the line, without line feed."""
        closed: list[JsonValue] = list(self.closed)
        return canonical_bytes(
            {
                "became": self.became.value,
                "closed": closed,
                "description": self.description,
                "entry": self.entry,
                "exhibit": self.exhibit,
                "kind": self.kind,
                "reason": self.reason,
                "use": self.use,
            }
        )


def neutral_line(entry: int, kind: str) -> AccountingLine:
    """The line of an entry of which nothing is said but its position and kind."""
    return AccountingLine(
        entry=entry,
        kind=kind,
        became=Became.WITHHELD,
        reason=NEUTRAL_REASON,
        description=NEUTRAL_WORDING,
    )


def count_outcomes(lines: Iterable[AccountingLine]) -> dict[str, int]:
    """How many entries became what, every outcome named."""
    found = Counter(line.became.value for line in lines)
    return {became.value: found[became.value] for became in Became}


def parse_accounting_line(line: bytes, *, path: str, number: int) -> AccountingLine:
    """Read the line of entry `number` (from 0) strictly.

    Raises ProofError with path and line for anything but the canonical JSON of a line that can
    stand at that place.
    """
    try:
        members = Members(
            parse_canonical(line, path=path, line=number + 1),
            path=path,
            where=f"the accounting of entry {number}",
        )
        found = AccountingLine(
            entry=members.integer("entry"),
            kind=members.choice("kind", ENTRY_KINDS),
            became=Became(members.choice("became", tuple(one.value for one in Became))),
            reason=members.text("reason"),
            use=members.optional_text("use"),
            exhibit=members.optional_integer("exhibit"),
            description=members.optional_text("description"),
            closed=members.text_list("closed"),
        )
        members.finish()
        _require_sensible(found, number, members)
    except ProofError as error:
        error.line = number + 1
        raise
    return found


def _require_sensible(line: AccountingLine, number: int, members: Members) -> None:
    """The rules that hold for a line by itself."""
    if line.entry != number:
        raise ProofError(
            "the accounting does not take the entries one after the other",
            path=members.path,
            expected=f"entry {number}",
            observed=f"entry {line.entry}",
        )
    if _BLANK.fullmatch(line.reason):
        raise members.wrong("reason", "a reason")
    if line.neutral:
        if line != neutral_line(line.entry, line.kind):
            raise members.wrong("became", "the neutral form, where there is no exhibit")
        return
    if line.exhibit is None or not 1 <= line.exhibit <= MAX_EXHIBIT:
        raise members.wrong("exhibit", f"a number from 1 to {MAX_EXHIBIT}")
    if line.use not in USES:
        raise members.wrong("use", " or ".join(USES))
    if line.description is None or _BLANK.fullmatch(line.description):
        raise members.wrong("description", "a description")
    if list(line.closed) != sorted(set(line.closed)):
        raise members.wrong("closed", "names in order, each once")
    if bool(line.closed) != (line.became is Became.REDACTED):
        raise members.wrong("closed", "names of fields, in a redacted entry and nowhere else")


def exhibits_of(lines: Iterable[AccountingLine]) -> Mapping[int, int]:
    """Exhibit numbers by entry, of those that have one.

    Raises ProofError where two entries have the same exhibit number.
    """
    found: dict[int, int] = {}
    seen: dict[int, int] = {}
    for line in lines:
        if line.exhibit is None:
            continue
        if line.exhibit in seen:
            raise ProofError(
                f"exhibit {line.exhibit} stands for two entries",
                expected=f"entry {seen[line.exhibit]} alone",
                observed=f"entry {line.entry} too",
            )
        seen[line.exhibit] = line.entry
        found[line.entry] = line.exhibit
    return found
