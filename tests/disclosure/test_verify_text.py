"""The commands in a pack's VERIFY.txt, run exactly as they stand there."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.container import layout
from evidpack.disclosure.verify_text import pack_verify_text
from evidpack.proof.canonical import canonical_bytes
from tests.bundles import put_together
from tests.disclosure.packs import in_pack_order, parts, repaired, resigned
from tests.sealed_days import SealedDay
from tests.sealing.test_verify_text import commands
from tests.tools import require_program

PAGE = Path(__file__).parents[2] / "docs" / "verify-by-hand.md"


def by_hand() -> str:
    """The commands in the part about packs of docs/verify-by-hand.md."""
    page = PAGE.read_text(encoding="utf-8").split("\n## A pack\n")[1]
    return "".join(block.split("\n```")[0] + "\n" for block in page.split("```sh\n")[1:])


def run(
    day: SealedDay, pack: bytes, folder: Path, lines: str | None = None
) -> subprocess.CompletedProcess[str]:
    """The commands of the pack's own VERIFY.txt, or these, run over it."""
    for program in ("unzip", "sha256sum", "openssl", "bash", "xxd"):
        require_program(program)
    text = commands(parts(pack)[layout.VERIFY].decode()) if lines is None else lines
    (folder / "PACK.zip").write_bytes(pack)
    for name, holder in (
        ("AUTHORITY.pem", day.authority.root),
        ("TSA-AUTHORITY.pem", day.authority.time_stamp_root),
    ):
        (folder / name).write_bytes(holder.certificate.public_bytes(Encoding.PEM))
    return subprocess.run(
        ["bash", "-c", "set -e\n" + text],
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
    signed = json.loads(parts(pack)[layout.DISCLOSURE_STATEMENT])["pinned"]
    assert f"pinned     {len(signed)}\n" in done.stdout
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


def test_every_command_by_hand_runs(sealed_day: SealedDay, pack: bytes, tmp_path: Path) -> None:
    assert by_hand().count("openssl") == 5
    done = run(sealed_day, pack, tmp_path, by_hand())
    assert done.returncode == 0, done.stderr
    assert (done.stderr + done.stdout).count("CMS Verification successful") == 2
    assert (done.stderr + done.stdout).count("Verification: OK") == 2
    said = json.loads(parts(pack)[layout.DISCLOSURE_STATEMENT])["accounting"]
    for became, count in said.items():
        assert count == 0 or f'{count} "became":"{became}"' in done.stdout


def another_seal(members: dict[str, bytes]) -> None:
    said = json.loads(members[layout.DISCLOSURE_STATEMENT])
    said["origin"] = "ab" * 32
    members[layout.DISCLOSURE_STATEMENT] = canonical_bytes(said)


def another_leaf(members: dict[str, bytes]) -> None:
    first = json.loads(members[layout.DISCLOSURE_OPENINGS].split(b"\n")[0])["entry"]
    leaves = members[layout.DISCLOSURE_LEAVES].split(b"\n")
    leaves[first] = b"ab" * 32
    members[layout.DISCLOSURE_LEAVES] = b"\n".join(leaves)


def another_salt(members: dict[str, bytes]) -> None:
    first, rest = members[layout.DISCLOSURE_OPENINGS].split(b"\n", 1)
    opening = json.loads(first)
    opening["fields"]["item_kind"]["salt"] = "00" * 16
    members[layout.DISCLOSURE_OPENINGS] = canonical_bytes(opening) + b"\n" + rest


@pytest.mark.parametrize("change", [another_seal, another_leaf, another_salt])
def test_the_comparisons_by_hand_show_a_difference_even_signed(
    sealed_day: SealedDay,
    pack: bytes,
    tmp_path: Path,
    change: Callable[[dict[str, bytes]], None],
) -> None:
    members = parts(pack)
    change(members)
    signed = resigned(members, sealed_day.authority)
    done = run(sealed_day, signed, tmp_path, by_hand())
    assert done.returncode == 1
    assert "CMS Verification successful" in done.stderr
    assert "\n> " in done.stdout  # what diff shows


def test_a_time_that_is_only_claimed_is_said_to_be() -> None:
    text = pack_verify_text(reference="pack-1-x", origin_token=True, time_stamp=False).decode()
    assert "no time stamp over the disclosure" in text
    assert text.count("openssl ts -verify") == 1
    both = pack_verify_text(reference="pack-1-x", origin_token=False, time_stamp=False).decode()
    assert "no time stamp over the seal and the disclosure" in both
    assert "openssl ts" not in both


def another_description(members: dict[str, bytes]) -> str:
    lines = members[layout.DISCLOSURE_ACCOUNTING].split(b"\n")
    said = json.loads(lines[0])
    said["description"] = "Another description"
    lines[0] = canonical_bytes(said)
    members[layout.DISCLOSURE_ACCOUNTING] = b"\n".join(lines)
    return layout.DISCLOSURE_ACCOUNTING


def another_opening(members: dict[str, bytes]) -> str:
    another_salt(members)
    return layout.DISCLOSURE_OPENINGS


def another_index(members: dict[str, bytes]) -> str:
    members[layout.INDEX] += b"%changed"
    return layout.INDEX


def another_released_file(members: dict[str, bytes]) -> str:
    name = min(name for name in members if name.startswith(layout.EXPORT))
    members[name] += b"changed"
    return name


def one_file_more(members: dict[str, bytes]) -> str:
    members["data/export/zz-more.txt"] = b"more"
    return "data/export/zz-more.txt"


def one_file_less(members: dict[str, bytes]) -> str:
    name = min(name for name in members if name.startswith(layout.DERIVED))
    del members[name]
    return name


@pytest.mark.parametrize(
    "change",
    [
        another_description,
        another_opening,
        another_index,
        another_released_file,
        one_file_more,
        one_file_less,
    ],
)
def test_the_commands_stop_at_a_change_without_the_key_though_the_manifests_are_mended(
    sealed_day: SealedDay,
    pack: bytes,
    tmp_path: Path,
    change: Callable[[dict[str, bytes]], str],
) -> None:
    members = parts(pack)
    name = change(members)
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    done = run(sealed_day, repaired(top, members), tmp_path)
    assert done.returncode == 1
    assert "FAILED" not in done.stdout  # the mended lists say nothing
    assert "AssertionError" in done.stderr
    assert f"'{name}'" in done.stderr


def another_count(members: dict[str, bytes]) -> None:
    said = json.loads(members[layout.DISCLOSURE_STATEMENT])
    said["accounting"]["withheld"] += 1
    said["accounting"]["released"] -= 1
    members[layout.DISCLOSURE_STATEMENT] = canonical_bytes(said)


def another_kind(members: dict[str, bytes]) -> None:
    lines = members[layout.DISCLOSURE_ACCOUNTING]
    members[layout.DISCLOSURE_ACCOUNTING] = lines.replace(b'"kind":"file"', b'"kind":"record"', 1)


def a_field_twice(members: dict[str, bytes]) -> None:
    """True where it stands first, false where it stands last, which is what a reader takes."""
    first, rest = members[layout.DISCLOSURE_OPENINGS].split(b"\n", 1)
    name, field = list(json.loads(first)["fields"].items())[-1]
    field["value"] = "false"
    again = canonical_bytes({name: field})[1:-1]
    members[layout.DISCLOSURE_OPENINGS] = first[:-2] + b"," + again + b"}}\n" + rest


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (another_seal, "the statement names another seal"),
        (another_salt, "'item_kind')"),
        (another_count, "AssertionError: released"),
        (another_kind, "the seal counts other entries"),
        (a_field_twice, "an opening has more than its fields"),
    ],
)
def test_the_commands_stop_at_what_does_not_fit_even_signed(
    sealed_day: SealedDay,
    pack: bytes,
    tmp_path: Path,
    change: Callable[[dict[str, bytes]], None],
    told: str,
) -> None:
    members = parts(pack)
    change(members)
    done = run(sealed_day, resigned(members, sealed_day.authority), tmp_path)
    assert done.returncode == 1
    assert told in done.stderr
