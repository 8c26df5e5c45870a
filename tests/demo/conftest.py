from __future__ import annotations

from pathlib import Path

import pytest

from evidpack.demo.day import write_demo_day


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented day, written once."""
    folder = tmp_path_factory.mktemp("invented")
    write_demo_day(folder, seed=1)
    return folder


@pytest.fixture(scope="session")
def export(demo_folder: Path) -> Path:
    return demo_folder / "export"
