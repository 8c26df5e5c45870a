"""What a check says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from evidpack.model.values import JsonValue


class Outcome(StrEnum):
    """The five outcomes of a check."""

    PASS = "pass"
    QUERY = "query"
    FAIL = "fail"
    NOT_DETERMINABLE = "not determinable"
    NOT_APPLICABLE = "not applicable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding of one check about one subject.

    `check` is the number in docs/checks.md (``1`` … ``20``, ``2b``).  `subject` names what was
    examined, a capture always by number and never by plate.  `measured` and `limit` are in `unit`.
    `source` says where the limit comes from.  `sentence` is one sentence for a person, `advice`
    says who can supply what.  `adverse` is true for query, fail, and not determinable where the
    rule set requires the input.
    """

    check: str
    check_version: int
    subject: str
    outcome: Outcome
    sentence: str
    adverse: bool
    measured: JsonValue = None
    limit: JsonValue = None
    unit: str | None = None
    source: str | None = None
    advice: str | None = None
    undermines: bool = False  # to be considered for disclosure: may undermine or assist

    def to_values(self) -> dict[str, JsonValue]:
        """The finding as the named values that a ledger entry commits to."""
        return {
            "check": self.check,
            "check_version": self.check_version,
            "subject": self.subject,
            "outcome": self.outcome.value,
            "sentence": self.sentence,
            "adverse": self.adverse,
            "measured": self.measured,
            "limit": self.limit,
            "unit": self.unit,
            "source": self.source,
            "advice": self.advice,
            "undermines": self.undermines,
        }
