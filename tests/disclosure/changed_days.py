"""The small day changed before it is sealed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.sealed_days import SealedDay, seal_day, trusting
from tests.small_day import write_small_day

REPORT = """
[[report]]
session = "S1"
signed_by = "A. Nobody"
document = "{document}"
typed_by = "office"
typed_from = "paper file"
"""


def changed_day(folder: Path, like: SealedDay, change: Callable[[Path], None]) -> SealedDay:
    """The small day written into `folder`, changed there, and sealed as `like` was."""
    day_path = write_small_day(folder)
    change(folder)
    path = folder / "bundle.zip"
    sealed = seal_day(day_path, path, like.authority)
    return SealedDay(
        folder=folder,
        path=path,
        bundle=path.read_bytes(),
        authority=like.authority,
        trust=trusting(like.authority),
        sealed=sealed,
    )


def with_report(document: str) -> Callable[[Path], None]:
    """A report of the session is typed, and names this file as its document."""

    def change(folder: Path) -> None:
        path = folder / "day.toml"
        path.write_text(path.read_text("utf-8") + REPORT.format(document=document), "utf-8")

    return change
