"""Every seed and every finding, run as any other test: what once broke a parser stays mended."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.corpus import FINDINGS, SEEDS, files_of
from tests.fuzz.hostile import ending
from tests.fuzz.targets import TARGETS

FILES = [
    pytest.param(name, path, id=f"{kind.name}/{name}/{path.name}")
    for kind in (SEEDS, FINDINGS)
    for name in TARGETS
    for path in files_of(kind, name)
]
# Good inputs that their target takes to the end; others are of one part of what it reads.
TAKEN = {
    "aes_zip", "certificate", "certificates", "clip", "csv", "csv_utf16", "decisions_toml", "disclosure_statement",
    "entry", "jpeg_scans", "json_lines", "json_log", "key", "manifest", "opening", "pattern", "picture",
    "png_chunks", "receipt", "releases", "rules_toml", "run_log", "statement", "still",
}  # fmt: skip


@pytest.mark.parametrize(("name", "path"), FILES)
def test_no_seed_and_no_finding_breaks_its_parser(name: str, path: Path) -> None:
    assert not ending(TARGETS[name], path.read_bytes()).startswith("BROKEN")


def test_every_parser_has_a_seed_that_it_reads() -> None:
    for name in TARGETS:
        assert files_of(SEEDS, name), f"no seed for {name}: python -m tests.fuzz.make_seeds"


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_a_seed_is_read_to_its_end_so_that_the_fuzzer_begins_inside(name: str) -> None:
    endings = {ending(TARGETS[name], path.read_bytes()) for path in files_of(SEEDS, name)}
    assert "returned" in endings, endings
