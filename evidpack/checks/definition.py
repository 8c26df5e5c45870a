"""What a check is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from evidpack.checks.look import Look
from evidpack.checks.saying import Say
from evidpack.model.day import Day
from evidpack.model.findings import Finding
from evidpack.rules.rule_values import RuleSet


class Phase(StrEnum):
    """When a check runs."""

    SEALING = "S"
    LATER = "L"
    RELEASE = "R"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check. `function` gives findings from a look and is a pure function of it."""

    number: str
    title: str
    version: int
    phase: Phase
    function: Callable[[Look, Say], Iterable[Finding]]
    inputs: tuple[str, ...]
    source: str

    def run(self, day: Day, rules: RuleSet) -> tuple[Finding, ...]:
        """The findings of this check about a day under a rule set."""
        return self.look_at(Look(day, rules))

    def at(self, look: Look, *, later: bool) -> tuple[Finding, ...]:
        """The findings in a phase: a check whose time has not come says that it doesn't apply."""
        if self.phase is Phase.LATER and not later:
            return (
                self.say(look).not_applicable(
                    "day", f"{self.title}: told from what comes after the day, not at sealing."
                ),
            )
        return self.look_at(look)

    def look_at(self, look: Look) -> tuple[Finding, ...]:
        """The findings of this check about a look that several checks share, at least one: a check
        that has nothing to look at says that it doesn't apply.
        """
        say = self.say(look)
        found = tuple(self.function(look, say))
        return found or (
            say.not_applicable("day", f"{self.title}: nothing of this kind is on record."),
        )

    def say(self, look: Look) -> Say:
        """How this check makes its findings under the rule set of a look."""
        return Say(check=self.number, version=self.version, rules=look.rules)
