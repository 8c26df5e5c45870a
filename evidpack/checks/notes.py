"""Which notes stand beside which finding. A note explains; it never removes a finding.

The subject of a note names a check (``check 10``), what was examined (``capture 7``, ``session S1``
or the identifier of a capture), or both (``check 10, capture 7``). Case and spaces do not matter.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Final

from evidpack.model.columns import Columns
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record

# A pass needs no explanation: a note about it is listed apart.
EXPLAINED: Final = (Outcome.FAIL, Outcome.QUERY, Outcome.NOT_DETERMINABLE)

_LIST: Final = re.compile(r"\bcaptures?\s+(\d+(?:[–-]\d+)?(?:,\s*\d+(?:[–-]\d+)?)*)", re.IGNORECASE)
_PART: Final = re.compile(r"(\d+)(?:[–-](\d+))?")
_CHECK: Final = re.compile(r"check\s+(\w+)\s*(?:[,:;]\s*)?(.*)", re.IGNORECASE | re.DOTALL)


class Notes:
    """The notes of a day; `captures` are its capture records, by which identifiers are known."""

    def __init__(self, notes: Iterable[Record], captures: Sequence[Record]) -> None:
        self._notes = tuple(notes)
        self._captures = captures

    @cached_property
    def _numbers(self) -> Mapping[str, int]:
        """Capture numbers by identifier; made only where a note may ask for one."""
        columns = Columns(self._captures)
        pairs = zip(columns.get("capture") or (), columns.get("number") or (), strict=False)
        return {
            _folded(name): number
            for name, number in pairs
            if isinstance(name, str) and name and isinstance(number, int) and number
        }

    def beside(self, finding: Finding) -> tuple[Record, ...]:
        """The notes that explain this finding, in the order in which they stand."""
        if finding.outcome not in EXPLAINED:
            return ()
        return tuple(note for note in self._notes if self._is_about(note, finding))

    def elsewhere(self, findings: Sequence[Finding]) -> tuple[Record, ...]:
        """The notes that stand beside none of these."""
        return tuple(
            note
            for note in self._notes
            if not any(
                finding.outcome in EXPLAINED and self._is_about(note, finding)
                for finding in findings
            )
        )

    def _is_about(self, note: Record, finding: Finding) -> bool:
        subject = note.text("subject") or ""
        named = _CHECK.fullmatch(subject.strip())
        if named is not None:
            if named[1].casefold() != finding.check.casefold():
                return False
            subject = named[2]
            if not subject:
                return True
        wanted = _folded(subject)
        if not wanted:
            return False
        if wanted == _folded(finding.subject):
            return True
        number = self._number(wanted)
        if number is None:
            return False
        within = captures_named(finding.subject, number)
        return number in within and (named is not None or len(within) == 1)

    def _number(self, wanted: str) -> int | None:
        """The capture that a subject names by its number or identifier."""
        number = self._numbers.get(wanted.removeprefix("capture "), self._numbers.get(wanted))
        if number is None and (found := re.fullmatch(r"capture (\d{1,9})", wanted)):
            number = int(found[1])
        return number


def captures_named(subject: str, last: int) -> set[int]:
    """The numbers in ``capture 7`` or ``captures 1–3, 9``, none beyond `last`."""
    numbers: set[int] = set()
    for listed in _LIST.findall(subject):
        for low, high in _PART.findall(listed):
            numbers.update(range(int(low), min(int(high or low), last) + 1))
    return numbers


def note_line(note: Record) -> str:
    """``Note by A. Person, 2026-05-14 17:00: what it says``."""
    moment = note.stamp("time")
    when = "" if moment is None else f", {moment.local.isoformat(' ', 'minutes')}"
    return f"Note by {note.text('by')}{when}: {note.text('text')}"


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()
