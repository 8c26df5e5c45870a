"""Whatever the bytes, every parser ends in one of evidpack's own errors, in bounded time and memory."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzz import hostile
from tests.fuzz.hostile import MEMORY_BYTES, ending, inputs
from tests.fuzz.targets import TARGETS, Target

ROOT = Path(__file__).parents[2]
# One input may take so long on a slow and busy machine; on an idle one none takes a tenth of it.
MOST_SECONDS = 30
ALL_SECONDS = 600


@pytest.mark.parametrize("name", TARGETS)
def test_hostile_bytes_end_in_an_error_of_our_own_within_bounds(name: str) -> None:
    """In a process whose memory is bounded; -W error, so that a stray warning counts as well."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "tests.fuzz.hostile", name],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=ALL_SECONDS,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2_000:]
    assert done.stderr == ""
    found = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(found) == sum(1 for _ in inputs(name)) >= 8
    broken = [one for one in found if one[1].startswith("BROKEN") or one[2] > MOST_SECONDS]
    assert broken == []


def test_a_parser_that_breaks_is_told() -> None:
    def breaks(data: bytes) -> None:
        raise KeyError(data)

    assert ending(Target(name="x", run=breaks), b"k") == "BROKEN KeyError: b'k'"
    assert ending(Target(name="x", run=breaks, own=(KeyError,)), b"k") == "KeyError"


def test_memory_is_bounded_indeed() -> None:
    """The limit of the subprocess is real: twice as much cannot be had there."""
    code = (
        "import resource; from tests.fuzz.hostile import MEMORY_BYTES as m\n"
        "resource.setrlimit(resource.RLIMIT_AS, (m, m))\n"
        "bytearray(2 * m)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, check=False)
    assert b"MemoryError" in done.stderr
    assert MEMORY_BYTES == 2 * 1024**3
    assert "setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES" in Path(hostile.__file__).read_text()
