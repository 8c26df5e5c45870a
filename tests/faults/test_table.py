"""The table of failing machines in docs/threat-model.md is what the tests hold to."""

from __future__ import annotations

import re
from pathlib import Path

from tests.faults.figures import AT_LEAST, FAULTS
from tests.faults.table import table, written

HERE = Path(__file__).parent


def test_the_page_has_the_table_as_it_is() -> None:
    assert written() == table()


def test_every_figure_in_the_table_is_required_of_a_test_that_stands_there() -> None:
    counted = [name for one in FAULTS for name in one.figures]
    assert sorted(counted) == sorted(AT_LEAST)
    for one in FAULTS:
        texts = [(HERE / name.strip()).read_text() for name in one.tested_in.split(",")]
        for figure in one.figures:
            words = re.split(r", (?=plain|encrypted|E[A-Z]+)| by SIG", figure)[0]
            assert any(words in text and "require_tried(" in text for text in texts), figure
