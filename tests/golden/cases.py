"""The golden files as they stand, what is asked of them, and what must be answered."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from evidpack.verifying.report import Report
from tests.golden.delta import applied

GOLDEN: Final = Path(__file__).parents[2] / "fixtures_invented" / "golden"
EXPECTED: Final = "expected.json"
# Step 8 depends on the versions of checks, decoders and libraries (docs/format.md).
BY_VERSION: Final = "by version"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One question about a file: the options of `evidpack verify`, and the answer."""

    file: str
    options: tuple[str, ...]
    about: str
    exit_code: int
    verdict: str
    steps: dict[str, str]
    answers: dict[str, Any]

    @property
    def arguments(self) -> list[str]:
        """The options with the paths of the files that they name."""
        return [str(GOLDEN / one) if "/" in one else one for one in self.options]

    def to_json(self) -> dict[str, Any]:
        """The case as it is stored."""
        return {
            "file": self.file, "options": list(self.options), "about": self.about,
            "exit_code": self.exit_code, "verdict": self.verdict, "steps": self.steps,
            "answers": self.answers,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A spoiled file: of which good one, by which step it is refused, and what is named."""

    name: str
    of: str
    about: str
    step: int
    names: str
    failing: tuple[int, ...]
    by_version: bool
    sha256: str

    @property
    def data(self) -> bytes:
        """Its bytes."""
        delta = json.loads((GOLDEN / "spoiled" / f"{self.name}.json").read_text())
        data = applied((GOLDEN / self.of).read_bytes(), delta)
        assert hashlib.sha256(data).hexdigest() == self.sha256, self.name
        return data

    def to_json(self) -> dict[str, Any]:
        """The refusal as it is stored."""
        return {
            "name": self.name, "of": self.of, "about": self.about, "step": self.step,
            "names": self.names, "failing": list(self.failing), "by_version": self.by_version,
            "sha256": self.sha256,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Golden:
    """All of it. `files` holds the SHA-256 of each stored file; `versions` those that made them."""

    versions: dict[str, str]
    passphrases: dict[str, str]
    files: dict[str, str]
    cases: tuple[Case, ...]
    refused: tuple[Refused, ...]


def load() -> Golden:
    """What fixtures_invented/golden/expected.json says."""
    said = json.loads((GOLDEN / EXPECTED).read_text(encoding="utf-8"))
    return Golden(
        versions=said["versions"],
        passphrases=said["passphrases"],
        files=said["files"],
        cases=tuple(Case(**(one | {"options": tuple(one["options"])})) for one in said["cases"]),
        refused=tuple(
            Refused(**(one | {"failing": tuple(one["failing"])})) for one in said["refused"]
        ),
    )


def outcomes(report: Report) -> dict[str, str]:
    """The outcome of each step, by its number."""
    return {str(step.number): step.outcome.value for step in report.steps}
