"""A bundle of more than 4 GiB, in ZIP64 form, in bounded memory. It takes minutes: run by hand with

EVIDPACK_LARGE=1 python -m pytest tests/reader/test_large.py
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Any

import pytest

from evidpack.trust.authority import DemoAuthority
from tests.reader.cases.case import pem
from tests.reader.conftest import Run
from tests.sealed_days import seal_day, trusting
from tests.small_day import write_small_day

SIZES = (2**30 + 12_345, 4 * 2**30 + 12_345)
# Read buffers wait to be cleared away, so the amount varies from run to run; it must not grow with
# the file.
MOST_MORE_KB = 300_000


@pytest.mark.skipif(not os.environ.get("EVIDPACK_LARGE"), reason="takes minutes: EVIDPACK_LARGE=1")
def test_a_large_bundle_verifies_in_memory_that_does_not_grow_with_it(
    run: Run, authority: DemoAuthority, tmp_path: Path
) -> None:
    added = []
    for number, size in enumerate(SIZES):
        folder = tmp_path / str(number)
        folder.mkdir()
        bundle = _sealed(folder, authority, size)
        told = _verified(run, bundle, authority)
        print(
            f"\n{size} bytes: {told['seconds']:.0f} s, {told['before']} kB before, "
            f"{told['peak']} kB at most"
        )
        assert told["report"]["verdict"] == "verified"
        with bundle.open("rb") as stream:
            assert told["report"]["sha256"] == hashlib.file_digest(stream, "sha256").hexdigest()
        added.append(told["peak"] - told["before"])
        bundle.unlink()
    assert added[1] < added[0] + MOST_MORE_KB


def _sealed(folder: Path, authority: DemoAuthority, size: int) -> Path:
    day = write_small_day(folder)
    with (folder / "export" / "long.bin").open("wb") as stream:
        stream.truncate(size)
    bundle = folder / "large.zip"
    seal_day(day, bundle, authority)
    return bundle


def _verified(run: Run, bundle: Path, authority: DemoAuthority) -> dict[str, Any]:
    trust = trusting(authority)
    told: dict[str, Any] = run(
        "large.mjs",
        {"file": str(bundle), "anchors": pem(trust.anchors), "tsaAnchors": pem(trust.tsa_anchors)},
        timeout_s=1800,
    )
    return told
