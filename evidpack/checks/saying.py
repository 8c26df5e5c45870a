"""Making findings: one place decides what is adverse."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice, pairwise
from operator import lt
from sys import float_info
from typing import Final

from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from evidpack.rules.rule_values import RuleSet, RuleValue

MAX_LISTED: Final = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """What one check says.  Every method returns a `Finding` of this check and version.

    A query and a fail are adverse; not determinable is adverse where the rule set requires the
    input that is missing; a pass and not applicable never are.  Whatever is adverse is marked as
    material that may undermine or assist.
    """

    check: str
    version: int
    rules: RuleSet

    def passed(
        self,
        subject: str,
        sentence: str,
        *,
        measured: JsonValue = None,
        rule: RuleValue | None = None,
        limit: JsonValue = None,
        unit: str | None = None,
        source: str | None = None,
        undermines: bool = False,
    ) -> Finding:
        """A pass; `rule` supplies limit, unit and source where they are not given."""
        return self._finding(
            Outcome.PASS,
            subject,
            sentence,
            adverse=False,
            measured=measured,
            rule=rule,
            limit=limit,
            unit=unit,
            source=source,
            undermines=undermines,
        )

    def query(
        self,
        subject: str,
        sentence: str,
        advice: str,
        *,
        measured: JsonValue = None,
        rule: RuleValue | None = None,
        limit: JsonValue = None,
        unit: str | None = None,
        source: str | None = None,
    ) -> Finding:
        """Needs a written explanation; `advice` says from whom."""
        return self._finding(
            Outcome.QUERY,
            subject,
            sentence,
            adverse=True,
            advice=advice,
            measured=measured,
            rule=rule,
            limit=limit,
            unit=unit,
            source=source,
        )

    def failed(
        self,
        subject: str,
        sentence: str,
        advice: str,
        *,
        measured: JsonValue = None,
        rule: RuleValue | None = None,
        limit: JsonValue = None,
        unit: str | None = None,
        source: str | None = None,
    ) -> Finding:
        """A fail; `advice` says who can supply what."""
        return self._finding(
            Outcome.FAIL,
            subject,
            sentence,
            adverse=True,
            advice=advice,
            measured=measured,
            rule=rule,
            limit=limit,
            unit=unit,
            source=source,
        )

    def missing(
        self,
        subject: str,
        sentence: str,
        advice: str,
        *,
        needs: str,
        measured: JsonValue = None,
        rule: RuleValue | None = None,
        limit: JsonValue = None,
        unit: str | None = None,
        told_by: str | None = None,
    ) -> Finding:
        """Not determinable: the input `needs` (a name of `rules.keys.INPUTS`) is missing.

        `told_by` is the number of a check that says this very lack of this very thing: it is
        adverse there, once, and not once more in every check that wanted the same paper.
        """
        required = self.rules.requires(needs) and told_by is None
        return self._finding(
            Outcome.NOT_DETERMINABLE,
            subject,
            sentence,
            adverse=required,
            advice=advice,
            measured=measured,
            rule=rule,
            limit=limit,
            unit=unit,
            source=f"check {told_by} says what is missing"
            if told_by
            else (None if rule else self._required_by(needs, required=required)),
        )

    def not_applicable(self, subject: str, sentence: str) -> Finding:
        """The check does not apply to this subject."""
        return self._finding(Outcome.NOT_APPLICABLE, subject, sentence, adverse=False)

    def _required_by(self, needs: str, *, required: bool) -> str:
        word = "required" if required else "not required"
        return f"{needs} is {word} by rule set {self.rules.name} {self.rules.edition}"

    def _finding(
        self,
        outcome: Outcome,
        subject: str,
        sentence: str,
        *,
        adverse: bool,
        advice: str | None = None,
        measured: JsonValue = None,
        rule: RuleValue | None = None,
        limit: JsonValue = None,
        unit: str | None = None,
        source: str | None = None,
        undermines: bool = False,
    ) -> Finding:
        if rule is not None:
            limit = rule.json if limit is None else limit
            unit = rule.unit if unit is None else unit
            source = rule.cite if source is None else source
        return Finding(
            check=self.check,
            check_version=self.version,
            subject=subject,
            outcome=outcome,
            sentence=sentence,
            adverse=adverse,
            measured=measured,
            limit=limit,
            unit=unit,
            source=source,
            advice=advice,
            undermines=adverse or undermines,
        )


def spans(numbers: Iterable[int], *, listed: int = MAX_LISTED) -> str:
    """Whole numbers as ``1–4, 7``; beyond `listed` spans the rest is counted."""
    return join_spans(runs(numbers), listed=listed)


def runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Whole numbers as sorted runs (first, last)."""
    if isinstance(numbers, range) and numbers.step == 1 and numbers:
        return [(numbers[0], numbers[-1])]
    ordered = numbers if isinstance(numbers, list) else list(numbers)
    if not all(map(lt, ordered, islice(ordered, 1, None))):
        ordered = sorted(set(ordered))
    if not ordered:
        return []
    breaks = [pair for pair in pairwise(ordered) if pair[1] - pair[0] != 1]
    starts = [ordered[0], *(start for _, start in breaks)]
    ends = [*(end for end, _ in breaks), ordered[-1]]
    return list(zip(starts, ends, strict=True))


def join_spans(
    pairs: Iterable[tuple[int, int]], *, listed: int = MAX_LISTED, count: int | None = None
) -> str:
    """Runs (first, last) as text; `count` numbers in all where a run may go over a roll-over."""
    pairs = list(pairs)
    texts = [str(first) if first == last else f"{first}–{last}" for first, last in pairs]
    if len(texts) <= listed:
        return ", ".join(texts)
    if count is not None:
        return f"{', '.join(texts[:listed])} and others, {count} in all"
    rest = sum(last - first + 1 for first, last in pairs[listed:])
    return f"{', '.join(texts[:listed])} and {rest} more"


def captures(numbers: Iterable[int]) -> str:
    """``capture 7`` or ``captures 1–4, 7``."""
    found = runs(numbers)
    if len(found) == 1 and found[0][0] == found[0][1]:
        return f"capture {found[0][0]}"
    return f"captures {join_spans(found)}"


def names(texts: Iterable[str], *, listed: int = MAX_LISTED) -> str:
    """Names in order, the rest counted beyond `listed`."""
    texts = list(texts)
    if len(texts) <= listed:
        return ", ".join(texts)
    return f"{', '.join(texts[:listed])} and {len(texts) - listed} more"


# Units that say nothing to a reader.
SILENT_UNITS: Final = frozenset({"1", "count", "date", "name", "names", "flag", ""})


def shown_value(value: JsonValue, unit: str | None = None) -> str:
    """A measured value or a limit in words, with its unit where that says something."""
    if isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, float):
        text = f"{value:.10g}"
    elif isinstance(value, list):
        text = ", ".join(shown_value(one) for one in value) or "none"
    elif isinstance(value, dict):
        text = "; ".join(f"{name}: {shown_value(one)}" for name, one in value.items())
    else:
        text = "none" if value is None else str(value)
    return text if unit is None or unit in SILENT_UNITS else f"{text} {unit}"


def measured_and_limit(finding: Finding) -> str:
    """``measured 96.08 mph, limit 99 ± 1.43 mph``, as far as either is there."""
    parts = [
        f"{name} {shown_value(value, finding.unit)}"
        for name, value in (("measured", finding.measured), ("limit", finding.limit))
        if value is not None
    ]
    return ", ".join(parts)


def upper_first(text: str) -> str:
    """The text with its first letter in upper case, the rest as it stands."""
    return text[:1].upper() + text[1:]


def figure(value: float, digits: int = 2) -> float:
    """A measured value, rounded for a reader; JSON keeps what a person sees."""
    # JSON knows no infinity: what is too large to write is written as the largest number.
    rounded = round(max(-float_info.max, min(float_info.max, value)), digits)
    return 0.0 if rounded == 0 else rounded
