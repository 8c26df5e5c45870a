"""Bundles and packs of format 1 that were sealed once: they verify, and are refused, for ever.

If one of these fails, it is the code that is wrong and not the file.  Step 8 follows the documented
rule: under the versions that sealed the day its result must be the same; under others differences
are listed and the verdict is untouched.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from evidpack.verifying.versions import current_versions
from tests.cli.running import Run
from tests.golden import make
from tests.golden.cases import BY_VERSION, EXPECTED, GOLDEN, Case, Golden, Refused, load

_ALL = load()
_MAX_FILE_BYTES = 300_000
_MAX_ALL_BYTES = 3_000_000


def asked(
    run: Run, file: Path, options: list[str], passphrase: str | None, folder: Path
) -> tuple[int, dict[str, Any]]:
    """Exit code and report of `evidpack verify --json`."""
    arguments: list[object] = ["verify", file, *options, "--json"]
    if passphrase is not None:
        (folder / "passphrase.txt").write_text(passphrase + "\n", encoding="utf-8")
        arguments += ["--passphrase-file", folder / "passphrase.txt"]
    ran = run(*arguments)
    assert ran.out, ran.err
    return ran.code, json.loads(ran.out)


def same_versions(golden: Golden) -> bool:
    """Whether this installation is the one that sealed."""
    return current_versions() == golden.versions


def test_every_file_is_the_one_that_was_stored_and_there_is_no_other(golden: Golden) -> None:
    found = {
        path.relative_to(GOLDEN).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in GOLDEN.rglob("*")
        if path.is_file() and path.name not in {EXPECTED, "README.md"}
    }
    assert found == golden.files


def test_all_of_it_is_small() -> None:
    sizes = [path.stat().st_size for path in GOLDEN.rglob("*") if path.is_file()]
    assert max(sizes) <= _MAX_FILE_BYTES
    assert sum(sizes) <= _MAX_ALL_BYTES


def test_no_private_key_is_stored() -> None:
    for path in GOLDEN.rglob("*"):
        if path.is_file():
            assert b"PRIVATE KEY" not in path.read_bytes(), path


@pytest.mark.parametrize("case", _ALL.cases, ids=lambda case: f"{case.file}: {case.about}")
def test_a_file_is_answered_as_it_always_was(
    case: Case, golden: Golden, run: Run, tmp_path: Path
) -> None:
    code, said = asked(
        run, GOLDEN / case.file, case.arguments, golden.passphrases.get(case.file), tmp_path
    )
    assert code == said["exit_code"] == case.exit_code
    assert said["verdict"] == case.verdict
    assert said["answers"] == case.answers
    steps = {str(step["step"]): step["outcome"] for step in said["steps"]}
    if case.steps["8"] == BY_VERSION:
        require_rule(said["steps"][7], same=same_versions(golden))
        steps["8"] = BY_VERSION
    assert steps == case.steps


def require_rule(step: dict[str, Any], *, same: bool) -> None:
    """Step 8 of a file in which nothing is wrong."""
    if same or not step["faults"]:
        assert step["outcome"] == "holds", step
    else:
        assert step["outcome"] == "not established", step
        assert "versions" in step["examined"]
        assert step["next"]


@pytest.mark.parametrize("one", _ALL.refused, ids=lambda one: f"{one.name}: {one.about}")
def test_a_spoiled_file_is_refused_by_the_step_that_always_refused_it(
    one: Refused, golden: Golden, run: Run, tmp_path: Path
) -> None:
    file = tmp_path / "spoiled.zip"
    file.write_bytes(one.data)
    options = ["--anchor", str(GOLDEN / "anchors/authority.pem")]
    options += ["--tsa-anchor", str(GOLDEN / "anchors/tsa-authority.pem")]
    code, said = asked(run, file, options, golden.passphrases.get(one.of), tmp_path)
    failing = tuple(step["step"] for step in said["steps"] if step["outcome"] == "fails")
    faults = [fault for step in said["steps"] for fault in step["faults"]]
    assert any(one.names in json.dumps(fault, ensure_ascii=False) for fault in faults), faults
    if one.by_version and not same_versions(golden):
        # Other versions could explain it: listed, for a reader to look at.
        assert said["steps"][7]["outcome"] == "not established"
        return
    if same_versions(golden):
        assert failing == one.failing
    else:
        # A re-check under other versions never fails for what those could explain.
        assert [step for step in failing if step != 8] == [
            step for step in one.failing if step != 8
        ]
    assert one.step in failing
    assert code == said["exit_code"] == 1
    assert said["verdict"] == "does not verify"


def test_enough_is_refused_by_enough_steps(golden: Golden) -> None:
    assert len(golden.refused) >= 10
    assert {one.step for one in golden.refused} == set(range(1, 10))


def test_the_script_that_made_them_does_not_make_them_anew() -> None:
    with pytest.raises(SystemExit, match="golden files are never made anew"):
        make.main()


@pytest.mark.parametrize("name", ["future", "pack-future"])
def test_a_format_version_from_the_future_is_refused_by_name(
    name: str, golden: Golden, run: Run, tmp_path: Path
) -> None:
    (one,) = (one for one in golden.refused if one.name == name)
    file = tmp_path / "future.zip"
    file.write_bytes(one.data)
    ran = run("verify", file)
    assert ran.code == 1
    assert "format version 2, which this evidpack does not know" in ran.words
    assert "Verify it with a release of evidpack that knows that version" in ran.words
