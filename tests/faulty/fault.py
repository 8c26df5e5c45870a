"""What one faulty day is: a base, one fault made in its files, and what must be found."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tests.faulty.edits import Edit

SECOND = Path(__file__).parents[2] / "fixtures_invented" / "second"
LATER = "later"
DAY = "day.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault, and what must answer it: check and outcome, one adverse finding for each subject,
    and in every one of their sentences all that `says` names: what was measured, and the limit.

    `base` is ``second`` (km/h, one session) or ``demo`` (mph, two sessions, a clip and timed
    stills). Where the edit makes a folder ``later``, the day is checked with it.
    """

    name: str
    wrong: str
    check: str
    outcome: str
    subjects: tuple[str, ...]
    says: tuple[str, ...]
    edit: Edit
    base: str = "second"
    rules: str = "general"
    now: datetime = datetime(2026, 4, 1, 12, tzinfo=UTC)


def fault(
    name: str,
    wrong: str,
    answer: tuple[str, str, str | tuple[str, ...]],
    says: tuple[str, ...],
    edit: Edit,
    **more: object,
) -> Fault:
    """A fault; `answer` is check, outcome and subject."""
    check, outcome, subject = answer
    if more.get("base") == "demo":
        more.setdefault("now", datetime(2026, 6, 1, 12, tzinfo=UTC))
    return Fault(
        name=name,
        wrong=wrong,
        check=check,
        outcome=outcome,
        subjects=(subject,) if isinstance(subject, str) else subject,
        says=says,
        edit=edit,
        **more,  # type: ignore[arg-type]
    )


def write_base(folder: Path, base: Path = SECOND) -> Path:
    """A copy of a base day in a new folder; answers the path of its day.toml."""
    shutil.copytree(base, folder)
    return folder / DAY


def write_faulty(one: Fault, folder: Path, base: Path) -> Path:
    """The base day with one fault in a new folder; answers the path of its day.toml."""
    path = write_base(folder, base)
    one.edit(folder)
    return path
