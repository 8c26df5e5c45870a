"""The browser, Node, and the cases in a folder. Without the programs the tests skip, in CI they fail."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.reader.cases import all_cases
from tests.reader.cases.case import Case
from tests.sealed_days import SealedDay
from tests.tools import require_program

READER = Path(__file__).parents[2] / "evidpack" / "reader"
BROWSER = Path(__file__).parent / "browser"
Run = Callable[..., Any]


def require_packages() -> None:
    """The npm packages that the tests need; `npm ci` puts them there."""
    if (READER / "node_modules" / "playwright-core").is_dir():
        return
    why = "the reader's npm packages are not installed: npm ci in evidpack/reader"
    if os.environ.get("CI"):
        pytest.fail(why)
    pytest.skip(why)


@pytest.fixture(scope="session")
def node() -> str:
    require_packages()
    return require_program("node")


@pytest.fixture(scope="session")
def run(node: str, tmp_path_factory: pytest.TempPathFactory) -> Run:
    """Runs a script in `browser/` with a value, in a file; gives its answer."""

    def run_script(script: str, value: object, *, timeout_s: float = 600) -> Any:
        environment = os.environ | {"CHROMIUM": require_program("chromium")}
        asked = tmp_path_factory.mktemp("asked") / "value.json"
        asked.write_text(json.dumps(value), encoding="utf-8")
        done = subprocess.run(
            [node, str(BROWSER / script), str(asked)],
            capture_output=True,
            timeout=timeout_s,
            env=environment,
            check=False,
        )
        assert done.returncode == 0, done.stderr.decode()[-4000:]
        return json.loads(done.stdout)

    return run_script


@pytest.fixture(scope="session")
def cases(sealed_day: SealedDay) -> list[Case]:
    return list(all_cases(sealed_day))


@pytest.fixture(scope="session")
def case_files(cases: list[Case], tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Each case as a file of the one name that both readers are told."""
    folder = tmp_path_factory.mktemp("cases")
    files = []
    for number, case in enumerate(cases):
        file = folder / f"{number:04}" / case.file_name
        file.parent.mkdir()
        file.write_bytes(case.data)
        files.append(file)
    return files
