"""docs/checks.md against the code: every check, key and input is explained there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from evidpack.checks.registry import CHECKS
from evidpack.rules.keys import INPUTS, KEYS

TEXT = (Path(__file__).parents[2] / "docs" / "checks.md").read_text(encoding="utf-8")


def section(number: str) -> str:
    found = re.search(rf"^## {number} .*?(?=^## )", TEXT, flags=re.MULTILINE | re.DOTALL)
    assert found, f"docs/checks.md has no section {number}"
    return found[0]


@pytest.mark.parametrize("one", CHECKS, ids=lambda one: one.number)
def test_each_check_has_a_section_with_title_phase_and_inputs(one) -> None:
    text = section(one.number)
    assert text.startswith(f"## {one.number} {one.title} ({one.phase.value})\n")
    for name in one.inputs:
        assert f"`{name}`" in text, f"section {one.number} does not name {name}"


def test_every_key_of_a_rule_set_stands_in_the_table_with_unit_and_meaning() -> None:
    for key in KEYS.values():
        needed = "yes" if key.needed else ""
        assert f"| `{key.name}` | {' or '.join(key.units)} | {needed} | {key.about} |" in TEXT


def test_every_input_stands_in_the_table() -> None:
    for name, about in INPUTS.items():
        assert f"| `{name}` | {about} |" in TEXT


def test_every_input_is_one_that_a_check_asks_for() -> None:
    assert {name for one in CHECKS for name in one.inputs} == set(INPUTS)
