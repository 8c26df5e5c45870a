"""What earlier runs of the checks said, followed through the run log line by line.

A line names the adverse findings that the run before did not have (`new`) and those that it had and
this one has not (`gone`). Lines of an older form name neither: what such a run said is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue

KEYS = ("check", "subject", "outcome", "sentence")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidFinding:
    """An adverse finding as the run log keeps it: what makes it the same one in a later run."""

    check: str
    subject: str
    outcome: str
    sentence: str

    @classmethod
    def of(cls, finding: Finding) -> SaidFinding:
        """What is kept of a finding."""
        return cls(
            check=finding.check,
            subject=finding.subject,
            outcome=finding.outcome.value,
            sentence=finding.sentence,
        )

    def to_json(self) -> dict[str, JsonValue]:
        """As it stands in a line of the log."""
        return {name: getattr(self, name) for name in KEYS}


@dataclass(slots=True)
class _Said:
    """Where a finding was first said, and by which runs."""

    source: Source
    runs: list[int] = field(default_factory=list)


class RunHistory:
    """The runs of a log, told one after the other."""

    def __init__(self) -> None:
        self._said: dict[SaidFinding, _Said] = {}
        self._standing: dict[SaidFinding, None] = {}

    @property
    def standing(self) -> tuple[SaidFinding, ...]:
        """What the last run told so far had, in the order in which it was first said."""
        return tuple(self._standing)

    def tell(
        self, run: int, source: Source, *, new: Iterable[SaidFinding], gone: Iterable[SaidFinding]
    ) -> None:
        """The next line of the log, at `source`. What is gone without having been there is passed
        over: the chain tells whether a line was changed."""
        for finding in gone:
            self._standing.pop(finding, None)
        for place, finding in enumerate(new):
            where = Source(path=source.path, line=source.line, place=place)
            self._said.setdefault(finding, _Said(where))
            self._standing[finding] = None
        for finding in self._standing:
            self._said[finding].runs.append(run)

    def records(self) -> Iterator[Record]:
        """A record of each finding that any run had."""
        for finding, said in self._said.items():
            runs: list[JsonValue] = [*said.runs]
            yield Record(
                kind=RecordKind.PAST_FINDING,
                source=said.source,
                values={**finding.to_json(), "runs": runs},
            )


def changes(
    before: Iterable[SaidFinding], now: Iterable[SaidFinding]
) -> tuple[list[SaidFinding], list[SaidFinding]]:
    """What is new and what is gone, each once and in the order told."""
    then, here = dict.fromkeys(before), dict.fromkeys(now)
    return [one for one in here if one not in then], [one for one in then if one not in here]
