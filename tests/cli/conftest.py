"""Fixtures for commands."""

from __future__ import annotations

from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from tests.cli.running import Run, runner
from tests.sealed_days import SealedDay


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return runner(monkeypatch, capsys)


@pytest.fixture(scope="session")
def anchors(sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The authority's and the time-stamp authority's certificates of the small day, as files."""
    folder = tmp_path_factory.mktemp("anchors")
    written = []
    for name, holder in (
        ("authority.pem", sealed_day.authority.root),
        ("tsa-authority.pem", sealed_day.authority.time_stamp_root),
    ):
        (folder / name).write_bytes(holder.certificate.public_bytes(Encoding.PEM))
        written.append(folder / name)
    return written[0], written[1]
