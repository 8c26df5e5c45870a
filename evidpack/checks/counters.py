"""How an image counter runs, over its roll-over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evidpack.checks.intervals import Interval
from evidpack.checks.saying import join_spans
from evidpack.model.day import Counter


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How one counter runs: its first number and, where it is declared, how many it has."""

    name: str
    first: int
    size: int | None

    def steps(self, start: int, number: int) -> int:
        """How many steps lead from `start` to `number`, over the roll-over where needed."""
        return number - start if self.size is None else (number - start) % self.size

    def number(self, start: int, steps: int) -> int:
        """The number so many steps after `start`."""
        if self.size is None:
            return start + steps
        return (start - self.first + steps) % self.size + self.first

    def text(self, start: int, gaps: Sequence[Interval]) -> str:
        """Steps from `start` as numbers of the counter."""
        return join_spans(
            [(self.number(start, low), self.number(start, high)) for low, high in gaps],
            count=sum(high - low + 1 for low, high in gaps),
        )


def course_of(name: str, counter: Counter | None) -> Course:
    """The course of a counter as declared; without a modulus it never starts again."""
    if counter is None or counter.modulus is None:
        return Course(name=name, first=0 if counter is None else counter.first, size=None)
    return Course(name=name, first=counter.first, size=max(1, counter.modulus - counter.first))


def possible(course: Course, number: int) -> bool:
    """Whether the counter can show a number."""
    return course.size is None or course.first <= number < course.first + course.size


def start_of(course: Course, numbers: Sequence[int]) -> int:
    """The number after the widest gap: with a roll-over, that gap is the part not used."""
    if course.size is None:
        return numbers[0]
    before = [numbers[-1] - course.size, *numbers[:-1]]
    return max(zip(numbers, before, strict=True), key=lambda pair: pair[0] - pair[1])[0]
