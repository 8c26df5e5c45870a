"""The commands in VERIFY.txt, run exactly as they stand there."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.container import layout
from evidpack.sealing.verify_text import verify_text
from tests.bundles import in_order, put_together, taken_apart
from tests.sealed_days import SealedDay
from tests.tools import require_program


def commands(text: str) -> str:
    """The lines between lines of dashes, in order."""
    kept: list[str] = []
    inside = False
    for line in text.splitlines():
        if line == "--- commands ---":
            inside = True
        elif line == "----------------":
            inside = False
        elif inside:
            kept.append(line)
    assert not inside
    return "\n".join(kept)


def run(sealed_day: SealedDay, bundle: bytes, folder: Path) -> subprocess.CompletedProcess[str]:
    for program in ("unzip", "sha256sum", "openssl", "bash"):
        require_program(program)
    _, members = taken_apart(sealed_day.bundle)
    (folder / "BUNDLE.zip").write_bytes(bundle)
    for name, holder in (
        ("AUTHORITY.pem", sealed_day.authority.root),
        ("TSA-AUTHORITY.pem", sealed_day.authority.time_stamp_root),
    ):
        (folder / name).write_bytes(holder.certificate.public_bytes(Encoding.PEM))
    script = "set -e\n" + commands(members[layout.VERIFY].decode())
    return subprocess.run(
        ["bash", "-c", script], cwd=folder, capture_output=True, text=True, check=False
    )


def test_every_command_of_verify_txt_runs_and_agrees_with_the_statement(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    done = run(sealed_day, sealed_day.bundle, tmp_path)
    assert done.returncode == 0, done.stderr
    statement = sealed_day.sealed.statement
    assert f"entries    {statement.entry_count}" in done.stdout
    assert f"chain_head {statement.chain_head.hex()}" in done.stdout
    assert f"tree_root  {statement.tree_root.hex()}" in done.stdout
    assert "CMS Verification successful" in done.stderr
    assert "Verification: OK" in done.stderr + done.stdout
    for name, digest in statement.pinned.items():
        assert f"{digest.hex()}  {name}" in done.stdout
    assert "data/export/readings.csv: OK" in done.stdout


@pytest.mark.parametrize(
    ("name", "complaint"),
    [
        ("data/export/readings.csv", "data/export/readings.csv: FAILED"),
        (layout.STATEMENT, "seal/statement.json: FAILED"),
    ],
)
def test_the_commands_stop_at_a_file_that_was_changed(
    sealed_day: SealedDay, tmp_path: Path, name: str, complaint: str
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    members[name] += b" "
    done = run(sealed_day, put_together(top, in_order(members)), tmp_path)
    assert done.returncode != 0
    assert complaint in done.stdout


def test_without_a_time_stamp_the_text_says_that_the_time_is_claimed() -> None:
    text = verify_text(reference="R-1", time_stamp=False).decode()
    assert "as claimed by the sealer" in text.replace("\n", " ")
    assert "openssl ts" not in text


def test_the_text_names_no_program_that_is_not_listed_as_needed() -> None:
    text = verify_text(reference="R-1", time_stamp=True).decode()
    programs = {
        line.split()[0]
        for line in commands(text).splitlines()
        if line.startswith(("unzip", "sha256sum", "openssl", "python3", "cd"))
    }
    assert programs == {"unzip", "sha256sum", "openssl", "python3", "cd"}
    assert shutil.which("python3") is not None
