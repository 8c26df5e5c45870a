from __future__ import annotations

import ast
import hashlib
import random
from pathlib import Path

import pytest

import evidpack.demo
from evidpack.demo.day import write_demo_day


def _digests(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_same_seed_gives_the_same_bytes(demo_folder: Path, tmp_path: Path) -> None:
    random.seed(99)  # the shared generator must not matter
    write_demo_day(tmp_path, seed=1)
    assert _digests(tmp_path) == _digests(demo_folder)


def test_files_carry_the_time_of_the_day_not_of_the_writing(demo_folder: Path) -> None:
    times = {path.stat().st_mtime for path in demo_folder.rglob("*") if path.is_file()}
    assert len(times) == 1
    assert 1_778_716_800 <= times.pop() < 1_778_803_200  # 14 May 2026, UTC (date -u -d @…)


def test_another_seed_gives_other_logs(demo_folder: Path) -> None:
    from evidpack.demo.logs import write_logs
    from evidpack.demo.plan import plan_day

    other = demo_folder.parent / "other-logs"
    other.mkdir()
    write_logs(other, plan_day(2))
    same = demo_folder / "export" / "logs" / "readings.csv"
    assert (other / "readings.csv").read_bytes() != same.read_bytes()


def test_the_day_is_of_a_size_to_pass_around(demo_folder: Path) -> None:
    sizes = [path.stat().st_size for path in demo_folder.rglob("*") if path.is_file()]
    assert sum(sizes) <= 12_000_000
    assert sorted(path.name for path in demo_folder.iterdir()) == ["day.toml", "export", "unit"]


@pytest.mark.parametrize("name", ["export", "unit", "day.toml"])
def test_nothing_is_written_over(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    with pytest.raises(FileExistsError, match=f"{name} exists already"):
        write_demo_day(tmp_path, seed=1)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def _imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} has a relative import"
            found.add(node.module or "")
    return found


def test_the_demo_imports_nothing_of_the_rooms_that_read_it() -> None:
    modules = sorted(Path(evidpack.demo.__file__).parent.glob("*.py"))
    assert len(modules) > 10
    for path in modules:
        ours = {name for name in _imported(path) if name.split(".")[0] == "evidpack"}
        assert {name for name in ours if not name.startswith("evidpack.demo")} == set(), path.name
