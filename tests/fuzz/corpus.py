"""Seeds and findings as files: tests/fuzz/seeds/TARGET/… and tests/fuzz/findings/TARGET/…

`python -m tests.fuzz.make_seeds` writes the seeds anew.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).parent
SEEDS: Final = HERE / "seeds"
FINDINGS: Final = HERE / "findings"


def files_of(kind: Path, name: str) -> list[Path]:
    """The files of one target, sorted."""
    folder = kind / name
    return sorted(path for path in folder.iterdir() if path.is_file()) if folder.is_dir() else []
