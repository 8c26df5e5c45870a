"""What to do about a call that a child is about to make."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.faults.call_numbers import READS, WRITES, is_opening
from tests.faults.system_calls import Call, Decide, Decision

Which = Callable[[Call], bool]


def changes(folder: Path) -> Which:
    """Calls that may change a file below the folder: every write, sync, name and lock."""

    def which(call: Call) -> bool:
        changing = call.opened_for_writing if is_opening(call.name) else call.name in WRITES
        return changing and _below(call, folder)

    return which


def looks(folder: Path) -> Which:
    """Calls that read below the folder: open, read, list, ask for size and time."""

    def which(call: Call) -> bool:
        return call.name in READS and not call.opened_for_writing and _below(call, folder)

    return which


def _below(call: Call, folder: Path) -> bool:
    return any(f"{path}/".startswith(f"{folder}/") for path in call.paths)


class Counted:
    """Decides about the calls that `which` picks, by their number from 1; all others go on."""

    def __init__(self, which: Which, decide: Callable[[Call, int], Decision]) -> None:
        self.calls: list[Call] = []
        self.decided = False
        self._which = which
        self._decide = decide

    def __call__(self, call: Call) -> Decision:
        if not self._which(call):
            return None
        self.calls.append(call)
        decision = self._decide(call, len(self.calls))
        self.decided |= decision is not None
        return decision


def at(number: int, which: Which, decision: Decision) -> Counted:
    """This decision about the call of this number."""
    return Counted(which, lambda _call, count: decision if count == number else None)


def from_then_on(number: int, which: Which, decision: Decision) -> Counted:
    """This decision about the call of this number and all after it."""
    return Counted(which, lambda _call, count: decision if count >= number else None)


def before(number: int, which: Which, action: Callable[[], object]) -> Counted:
    """Do something in the world before the call of this number, and let it go on."""

    def decide(_call: Call, count: int) -> None:
        if count == number:
            action()

    return Counted(which, decide)


def record(which: Which) -> Counted:
    """Let everything go on, and keep the calls."""
    return Counted(which, lambda _call, _count: None)


__all__ = [
    "Counted",
    "Decide",
    "Which",
    "at",
    "before",
    "changes",
    "from_then_on",
    "looks",
    "record",
]
