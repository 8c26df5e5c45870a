"""Sparse files are sealed as they read. (More than 4 GiB: `python -m tests.bench.holes`, by hand.)"""

from __future__ import annotations

from pathlib import Path

from evidpack.container import layout
from evidpack.trust.authority import DemoAuthority
from evidpack.verifying.report import Verdict
from tests.bundles import taken_apart, verified
from tests.sealed_days import seal_day, trusting
from tests.small_day import write_small_day

MIB = 2**20


def test_holes_are_sealed_as_the_zeros_they_read_as(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    day = write_small_day(tmp_path / "day")
    path = tmp_path / "day" / "export" / "holes.bin"
    with path.open("wb") as stream:
        for mark in (0, MIB - 3, 3 * MIB):
            stream.seek(mark)
            stream.write(b"marked")
        stream.truncate(5 * MIB + 1)
    seal_day(day, tmp_path / "b.zip", authority)
    bundle = (tmp_path / "b.zip").read_bytes()
    _, members = taken_apart(bundle)
    sealed = members[layout.EXPORT + "holes.bin"]
    assert sealed == path.read_bytes()
    assert len(sealed) == 5 * MIB + 1
    assert sealed.count(b"marked") == 3
    assert verified(bundle, trusting(authority)).verdict is Verdict.VERIFIED
