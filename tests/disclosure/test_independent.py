"""The verifier written from docs/format.md alone accepts packs and refuses changed ones."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.container import layout
from evidpack.disclosure.pack import MadePack
from tests.disclosure.packs import parts, repaired, resigned
from tests.disclosure.test_pack import CHANGES, Members
from tests.disclosure.test_redacted_packs import COPY_CHANGES
from tests.sealed_days import SealedDay
from tests.tools import require_program

VERIFIER = Path(__file__).with_name("independent_verifier.py")


def verify(day: SealedDay, pack: bytes, folder: Path) -> subprocess.CompletedProcess[str]:
    require_program("openssl")
    (folder / "pack.zip").write_bytes(pack)
    for name, holder in (("a.pem", day.authority.root), ("t.pem", day.authority.time_stamp_root)):
        (folder / name).write_bytes(holder.certificate.public_bytes(Encoding.PEM))
    return subprocess.run(
        [sys.executable, str(VERIFIER), "pack.zip", "a.pem", "t.pem"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_it_uses_nothing_of_evidpack_and_is_some_hundred_lines() -> None:
    tree = ast.parse(VERIFIER.read_text(encoding="utf-8"))
    imported = {
        name.name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for name in node.names
    } | {
        str(node.module).split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
    }
    assert imported == {
        "PIL", "hashlib", "io", "json", "pathlib", "subprocess", "sys", "tempfile", "zipfile",
    }  # fmt: skip
    code = [line for line in VERIFIER.read_text(encoding="utf-8").splitlines() if line.strip()]
    assert len(code) < 150


def test_it_accepts_a_pack(sealed_day: SealedDay, pack: bytes, tmp_path: Path) -> None:
    done = verify(sealed_day, pack, tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("VERIFIED: pack-1-")


def test_it_accepts_redacted_stills_tile_by_tile(
    big_day: SealedDay, with_box: tuple[MadePack, bytes, int], tmp_path: Path
) -> None:
    done = verify(big_day, with_box[1], tmp_path)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("change", COPY_CHANGES)
def test_it_refuses_a_changed_redacted_copy_even_signed(
    big_day: SealedDay,
    with_box: tuple[MadePack, bytes, int],
    tmp_path: Path,
    change: Callable[[Members, int], None],
) -> None:
    made, pack, number = with_box
    members = parts(pack)
    change(members, made.plan.lines[number].exhibit or 0)
    done = verify(big_day, resigned(members, big_day.authority), tmp_path)
    assert done.returncode != 0
    assert "DOES NOT VERIFY: " in done.stderr


# It passes over the derived tables, and says so.
REFUSED = [change for change, _ in CHANGES.values() if change.__name__ != "rendering_changed"]


@pytest.mark.parametrize("change", REFUSED)
def test_it_refuses_what_the_discloser_signed_anew(
    sealed_day: SealedDay, pack: bytes, tmp_path: Path, change: Callable[[Members], None]
) -> None:
    members = parts(pack)
    change(members)
    done = verify(sealed_day, resigned(members, sealed_day.authority), tmp_path)
    assert done.returncode != 0
    assert "VERIFIED: pack" not in done.stdout


def test_it_refuses_every_change_without_the_key(
    sealed_day: SealedDay, pack: bytes, tmp_path: Path
) -> None:
    members = parts(pack)
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    for name, data in members.items():
        if name in (layout.MANIFEST, layout.TAG_MANIFEST):
            continue
        changed = bytearray(data)
        changed[len(data) // 2] ^= 1
        done = verify(sealed_day, repaired(top, members | {name: bytes(changed)}), tmp_path)
        assert done.returncode != 0, name
