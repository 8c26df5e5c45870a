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
def run(node: str) -> Run:
    """Runs a script in `browser/` with a value on its standard input; gives its answer."""

    def run_script(script: str, value: object, *, timeout_s: float = 600) -> Any:
        environment = os.environ | {"CHROMIUM": require_program("chromium")}
        done = subprocess.run(
            [node, str(BROWSER / script)],
            input=json.dumps(value).encode(),
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
def case_folder(cases: list[Case], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Each case as a file, named by its number."""
    folder = tmp_path_factory.mktemp("cases")
    for number, case in enumerate(cases):
        (folder / f"{number:04}.zip").write_bytes(case.data)
    return folder
