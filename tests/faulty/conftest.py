"""The days and the pack that faults are made in, each written once."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.disclosure.conftest import big_day, made, with_box
from tests.faulty.demo_day import write_clean_demo
from tests.faulty.fault import SECOND

__all__ = ["big_day", "made", "with_box"]  # fixtures of the room that makes packs


@pytest.fixture(scope="session")
def bases(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    demo = tmp_path_factory.mktemp("base") / "demo"
    write_clean_demo(demo)
    return {"second": SECOND, "demo": demo}
