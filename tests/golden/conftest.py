"""Running commands, and what the golden files say of themselves."""

from __future__ import annotations

import pytest

from tests.cli.running import Run, runner
from tests.golden.cases import Golden, load


@pytest.fixture(scope="session")
def golden() -> Golden:
    return load()


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return runner(monkeypatch, capsys)
