"""docs/one-reading.md, run as it stands: from a cell of the export to a line of the printed index."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tools import require_program

PAGE = Path(__file__).parents[2] / "docs" / "one-reading.md"
BLOCKS = re.findall(
    r"^```sh\n(.*?)^```\n```text\n(.*?)^```$",
    PAGE.read_text(encoding="utf-8"),
    re.DOTALL | re.MULTILINE,
)
TOOLS = ("bash", "unzip", "openssl", "xxd", "pdftotext", "awk", "sha256sum")
MARK = "--- end of block ---"


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """What each block of commands printed, run one after the other beside a new demo."""
    for tool in TOOLS:
        require_program(tool)
    folder = tmp_path_factory.mktemp("reading")
    environment = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "COLUMNS": "100",
        "LC_ALL": "C.UTF-8",
    }
    subprocess.run(["evidpack", "demo", "demo"], cwd=folder, env=environment, check=True,
                   capture_output=True)  # fmt: skip
    script = "".join(f"{commands}\necho '{MARK}'\n" for commands, _ in BLOCKS)
    ran = subprocess.run(
        ["bash", "-c", script], cwd=folder, env=environment, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    parts = ran.stdout.split(f"{MARK}\n")
    assert len(parts) == len(BLOCKS) + 1, ran.stderr
    return parts[:-1]


def test_the_page_has_a_block_for_each_of_its_steps() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert text.count("```sh\n") == len(BLOCKS) >= 9
    assert [f"## {n} " in text for n in range(1, 8)] == [True] * 6 + [False]


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_each_block_prints_what_stands_below_it(printed: list[str], number: int) -> None:
    commands, expected = BLOCKS[number]
    assert printed[number] == expected, commands


def test_the_same_speed_stands_at_every_step(printed: list[str]) -> None:
    assert [("96.08" in text, "99" in text) for text in printed] == [
        (False, True),  # the cell
        (False, True),  # the record
        (False, True),  # the entry as shown
        (True, True),  # the finding
        (False, True),  # its computation, to three decimals
        (True, False),  # the slope by another program
        (False, False),  # the commitment
        (True, True),  # the index
        (False, False),  # the verification
        (False, False),  # what was altered is named
    ]
