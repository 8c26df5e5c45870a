"""docs/record-kinds.md is what the code says."""

from __future__ import annotations

from pathlib import Path

from tests.model.record_kinds_page import page


def test_the_page_is_made_from_the_code_as_it_is() -> None:
    written = Path(__file__).parents[2] / "docs" / "record-kinds.md"
    assert written.read_text(encoding="utf-8") == page()
