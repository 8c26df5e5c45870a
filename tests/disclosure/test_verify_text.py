"""The commands in a pack's VERIFY.txt, run exactly as they stand there."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.container import layout
from evidpack.disclosure.verify_text import pack_verify_text
from tests.bundles import put_together
from tests.disclosure.packs import in_pack_order, parts
from tests.sealed_days import SealedDay
from tests.sealing.test_verify_text import commands
from tests.tools import require_program


def run(day: SealedDay, pack: bytes, folder: Path) -> subprocess.CompletedProcess[str]:
    for program in ("unzip", "sha256sum", "openssl", "bash"):
        require_program(program)
    text = parts(pack)[layout.VERIFY].decode()
    (folder / "PACK.zip").write_bytes(pack)
    for name, holder in (
        ("AUTHORITY.pem", day.authority.root),
        ("TSA-AUTHORITY.pem", day.authority.time_stamp_root),
    ):
        (folder / name).write_bytes(holder.certificate.public_bytes(Encoding.PEM))
    return subprocess.run(
        ["bash", "-c", "set -e\n" + commands(text)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_command_runs(sealed_day: SealedDay, pack: bytes, tmp_path: Path) -> None:
    done = run(sealed_day, pack, tmp_path)
    assert done.returncode == 0, done.stderr
    counted = len(parts(pack)[layout.DISCLOSURE_LEAVES].splitlines())
    assert f"entries    {counted} revealed" in done.stdout
    assert (done.stderr + done.stdout).count("CMS Verification successful") == 2
    assert (done.stderr + done.stdout).count("Verification: OK") == 2


@pytest.mark.parametrize("name", [layout.DISCLOSURE_ENTRIES, layout.DISCLOSURE_ACCOUNTING])
def test_the_commands_stop_at_a_file_that_was_changed(
    sealed_day: SealedDay, pack: bytes, tmp_path: Path, name: str
) -> None:
    members = parts(pack)
    members[name] += b" "
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    done = run(sealed_day, put_together(top, in_pack_order(members)), tmp_path)
    assert done.returncode != 0
    assert f"{name}: FAILED" in done.stdout


def test_a_time_that_is_only_claimed_is_said_to_be() -> None:
    text = pack_verify_text(reference="pack-1-x", origin_token=True, time_stamp=False).decode()
    assert "no time stamp over the disclosure" in text
    assert text.count("openssl ts -verify") == 1
    both = pack_verify_text(reference="pack-1-x", origin_token=False, time_stamp=False).decode()
    assert "no time stamp over the seal and the disclosure" in both
    assert "openssl ts" not in both
