"""The built page comes from its sources, byte for byte, and from locked packages."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

from tests.reader.conftest import READER


def test_building_again_gives_the_same_bytes(node: str, tmp_path: Path) -> None:
    copy = tmp_path / "evidpack" / "reader"
    shutil.copytree(READER, copy, ignore=shutil.ignore_patterns("node_modules", "built"))
    shutil.copy(READER.parent / "__init__.py", copy.parent)
    (copy / "node_modules").symlink_to(READER / "node_modules")
    subprocess.run([node, "build.mjs"], cwd=copy, check=True, capture_output=True)
    built, again = (folder / "built" / "reader.html" for folder in (READER, copy))
    assert built.read_bytes() == again.read_bytes()


def test_the_sources_pass_the_type_checker(node: str) -> None:
    checked = subprocess.run(
        [node, "node_modules/typescript/bin/tsc", "--noEmit"],
        cwd=READER,
        capture_output=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout.decode()


def test_the_lock_names_versions_and_digests_and_no_host() -> None:
    lock = json.loads((READER / "package-lock.json").read_text(encoding="utf-8"))
    wanted = json.loads((READER / "package.json").read_text(encoding="utf-8"))["devDependencies"]
    packages = {name: one for name, one in lock["packages"].items() if name}
    for name, one in packages.items():
        assert one["integrity"].startswith("sha512-"), name
        assert "resolved" not in one, name
    for name, version in wanted.items():
        assert packages[f"node_modules/{name}"]["version"] == version


def test_no_package_in_the_page_is_under_a_copyleft_licence() -> None:
    lock = json.loads((READER / "package-lock.json").read_text(encoding="utf-8"))
    built_with = (
        "esbuild",
        "@esbuild/",
        "typescript",
        "@typescript/",
        "playwright-core",
        "axe-core",
        "ws",
    )
    bundled = {
        name.removeprefix("node_modules/"): one["license"]
        for name, one in lock["packages"].items()
        if name and not name.removeprefix("node_modules/").startswith(built_with)
    }
    assert {"pkijs", "asn1js", "pvutils", "hash-wasm", "@noble/ciphers"} <= set(bundled)
    assert set(bundled.values()) <= {"MIT", "BSD-3-Clause", "0BSD"}


def test_the_table_of_characters_is_the_one_that_its_script_writes() -> None:
    written = subprocess.run(
        [sys.executable, str(READER / "tables" / "make_name_table.py")],
        capture_output=True,
        check=True,
        env={"PYTHONPATH": str(READER.parents[1])},
    ).stdout
    assert written == (READER / "source" / "container" / "names_table.ts").read_bytes()
