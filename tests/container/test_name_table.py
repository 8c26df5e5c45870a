from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container.name_table import NameTable
from evidpack.container.names import require_name, twin_key
from evidpack.errors import ContainerError


def allowed(name: str) -> bool:
    try:
        require_name(name)
    except ContainerError:
        return False
    return True


def slow_refusal(names: list[str]) -> bool:
    """Reference: some name bad, or two paths (folders too) alike by key but not the same folder."""
    paths: dict[str, set[tuple[str, bool]]] = {}
    for name in names:
        if not allowed(name):
            return True
        parts = name.split("/")
        for number in range(1, len(parts) + 1):
            path = "/".join(parts[:number])
            paths.setdefault(twin_key(path), set()).add((path, number == len(parts)))
    return len(set(names)) < len(names) or any(len(found) > 1 for found in paths.values())


@given(st.lists(st.text(alphabet="aAbß./", min_size=1, max_size=6), max_size=8))
def test_the_table_agrees_with_a_slow_reference(names: list[str]):
    table = NameTable()
    try:
        for name in names:
            table.add(name)
        refused = False
    except ContainerError:
        refused = True
    assert refused == slow_refusal(names)


def test_the_table_names_the_twin():
    table = NameTable()
    table.add("data/a.txt")
    with pytest.raises(ContainerError, match=r"taken for one another: 'data/A\.txt'"):
        table.add("data/A.txt")


def test_the_table_measures_a_long_name_in_a_known_folder():
    folder = "/".join(["n" * 200] * 4)
    table = NameTable()
    table.add(f"{folder}/a")
    with pytest.raises(ContainerError, match="it has 1025 bytes"):
        table.add(f"{folder}/{'m' * 221}")


def test_folders_at_the_limit_and_one_past_it(monkeypatch):
    monkeypatch.setattr(limits, "MAX_FOLDERS", 3)
    table = NameTable()
    for name in ("a/b/x", "a/b/y", "a/c/x", "z"):
        table.add(name)
    with pytest.raises(ContainerError, match="limit reached: number of folders"):
        table.add("a/d/x")


def test_a_refused_name_changes_nothing():
    table = NameTable()
    table.add("a/b")
    for bad in ("a/b", "A/c", "a/b/c", "a/x/..", "a/c."):
        with pytest.raises(ContainerError):
            table.add(bad)
    table.add("a/c")
    table.add("a/x/y")
