"""Sealing the small day: what the bundle holds, how outside tools read it, and what stops a seal."""

from __future__ import annotations

import hashlib
import io
import json
import os
import subprocess
import zipfile
from datetime import timedelta
from pathlib import Path

import bagit
import pytest

from evidpack.container import layout
from evidpack.errors import (
    EvidpackError,
    ExportChangedError,
    IntakeError,
    TimeStampUnavailableError,
    TrustError,
    UsageError,
)
from evidpack.proof.statement import Previous
from evidpack.sealing.gather import gather_undescribed, sealing_note
from evidpack.sealing.order import SealOrder, Signer
from evidpack.sealing.seal import seal
from evidpack.trust.authority import DemoAuthority
from evidpack.verifying.report import StepOutcome, Verdict
from tests.bundles import fault_texts, taken_apart, verified
from tests.sealed_days import (
    SEALED_AT,
    FixedRandom,
    SealedDay,
    seal_day,
    stamped,
    trusting,
)
from tests.small_day import write_small_day
from tests.tools import require_program


def opened_values(members: dict[str, bytes]) -> list[dict[str, object]]:
    return [json.loads(line)["values"] for line in members[layout.OPENINGS].splitlines()]


def snapshot(folder: Path) -> dict[str, tuple[int, int, str]]:
    return {
        str(path.relative_to(folder)): (
            path.stat().st_mtime_ns,
            path.stat().st_size,
            hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "",
        )
        for path in sorted(folder.rglob("*"))
    }


# What is in the bundle


def test_every_file_of_the_export_is_in_the_bundle_byte_for_byte(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    export = sealed_day.folder / "export"
    for path in export.rglob("*"):
        if path.is_file():
            name = layout.EXPORT + path.relative_to(export).as_posix()
            assert members[name] == path.read_bytes()


def test_a_row_that_could_not_be_read_is_a_record_with_file_line_and_reason(
    sealed_day: SealedDay,
) -> None:
    _, members = taken_apart(sealed_day.bundle)
    unreadable = [one for one in opened_values(members) if one.get("record_kind") == "unreadable"]
    assert len(unreadable) == 1
    assert unreadable[0]["source_line"] == 4
    assert "not a speed" in str(unreadable[0]["reason"])
    assert unreadable[0]["raw:Speed"] == "not a speed"


def test_an_empty_folder_is_recorded(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    folders = [one for one in opened_values(members) if one.get("record_kind") == "empty_folder"]
    assert [one["path"] for one in folders] == ["export/nothing here"]


def test_the_ledger_shows_no_value_of_any_entry(sealed_day: SealedDay) -> None:
    _, members = taken_apart(sealed_day.bundle)
    ledger = members[layout.LEDGER]
    for text in (b"C1_0001", b"readings.csv", b"not a speed", b"A. Nobody", b"ZZ-0001"):
        assert text not in ledger
    assert text not in members[layout.STATEMENT]


def test_the_digest_of_every_file_can_be_read_in_the_index(sealed_day: SealedDay) -> None:
    import pypdf

    _, members = taken_apart(sealed_day.bundle)
    reader = pypdf.PdfReader(io.BytesIO(members[layout.INDEX]))
    text = "".join("".join(page.extract_text().split()) for page in reader.pages)
    for name, data in members.items():
        if name.startswith(layout.DATA):
            assert hashlib.sha256(data).hexdigest() in text, name
    assert sealed_day.sealed.statement.tree_root.hex() in text


def test_the_same_day_sealed_twice_has_other_commitments(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    output = tmp_path / "again.zip"
    seal_day(sealed_day.folder / "day.toml", output, authority, random=FixedRandom(2))
    _, first = taken_apart(sealed_day.bundle)
    _, second = taken_apart(output.read_bytes())
    ours, theirs = first[layout.LEDGER].splitlines(), second[layout.LEDGER].splitlines()
    assert len(ours) == len(theirs)
    assert not set(ours) & set(theirs)


def test_with_the_same_keys_randomness_and_time_all_but_the_signature_is_the_same(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    output = tmp_path / "again.zip"
    seal_day(sealed_day.folder / "day.toml", output, authority)
    _, first = taken_apart(sealed_day.bundle)
    _, second = taken_apart(output.read_bytes())
    differing = {name for name in first if first[name] != second[name]}
    assert differing == {layout.SIGNATURE, layout.TOKEN, layout.TAG_MANIFEST}


# How outside tools read it


def test_the_bag_is_valid_for_bagit(sealed_day: SealedDay, tmp_path: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(sealed_day.bundle)) as archive:
        archive.extractall(tmp_path)
    bag = bagit.Bag(str(tmp_path / sealed_day.sealed.statement.day))
    assert bag.validate(processes=1)
    assert bag.version_info == (1, 0)


def test_unzip_and_zipfile_read_the_same_members(sealed_day: SealedDay) -> None:
    unzip = require_program("unzip")
    done = subprocess.run(
        [unzip, "-t", str(sealed_day.path)], capture_output=True, text=True, check=True
    )
    assert "No errors detected" in done.stdout
    with zipfile.ZipFile(sealed_day.path) as archive:
        assert archive.testzip() is None
        for name in archive.namelist():
            assert f"testing: {name}" in done.stdout


# What stops a seal, and what it leaves


def left_over(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def test_the_export_and_what_stands_beside_it_is_not_written_to(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    day = write_small_day(tmp_path / "day")
    before = snapshot(tmp_path / "day")
    (tmp_path / "out").mkdir()
    seal_day(day, tmp_path / "out" / "bundle.zip", authority)
    assert snapshot(tmp_path / "day") == before
    assert left_over(tmp_path / "out") == ["bundle.zip"]


def test_nothing_is_ever_overwritten(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    output = tmp_path / "bundle.zip"
    output.write_bytes(b"something of somebody's")
    with pytest.raises(UsageError, match="nothing is ever replaced"):
        seal_day(sealed_day.folder / "day.toml", output, authority)
    assert output.read_bytes() == b"something of somebody's"
    assert left_over(tmp_path) == ["bundle.zip"]


@pytest.mark.parametrize("change", ["grows", "is replaced", "is gone", "another comes"])
def test_an_export_that_changes_while_it_is_sealed_stops_the_seal(
    authority: DemoAuthority, tmp_path: Path, change: str
) -> None:
    day = write_small_day(tmp_path / "day")
    notes = tmp_path / "day" / "export" / "notes.txt"

    def random(count: int) -> bytes:
        # Called first when the first file is copied: the listing has been made by then.
        if change == "grows":
            notes.write_text("longer than it was when it was listed")
        elif change == "is replaced":
            notes.write_bytes(b"#" * 34)
            os.utime(notes, (1, 1))
        elif change == "is gone":
            notes.unlink(missing_ok=True)
        else:
            (notes.parent / "late.txt").write_text("late")
        return bytes(count)

    (tmp_path / "out").mkdir()
    with pytest.raises((ExportChangedError, IntakeError), match=r"changed|gone|come|read"):
        seal_day(day, tmp_path / "out" / "bundle.zip", authority, random=random)
    assert left_over(tmp_path / "out") == []


@pytest.mark.parametrize(
    "error",
    [TimeStampUnavailableError("no answer"), KeyboardInterrupt(), OSError(28, "No space left")],
    ids=["no authority", "interrupt", "disk full"],
)
def test_whatever_stops_a_seal_nothing_half_made_is_left(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path, error: BaseException
) -> None:
    def fails(signature: bytes) -> bytes:
        del signature
        raise error

    with pytest.raises(type(error)):
        seal_day(sealed_day.folder / "day.toml", tmp_path / "b.zip", authority, time_stamp=fails)
    assert left_over(tmp_path) == []


def test_a_time_stamp_from_before_the_claimed_time_stops_the_seal(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    with pytest.raises(TrustError, match="claimed sealing time is after the time stamp"):
        seal_day(
            sealed_day.folder / "day.toml",
            tmp_path / "b.zip",
            authority,
            time_stamp=lambda signature: stamped(
                signature, authority, SEALED_AT - timedelta(seconds=1)
            ),
        )
    assert left_over(tmp_path) == []


def test_a_time_stamp_over_something_else_stops_the_seal(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    with pytest.raises(TrustError, match="other"):
        seal_day(
            sealed_day.folder / "day.toml",
            tmp_path / "b.zip",
            authority,
            time_stamp=lambda _: stamped(b"something else", authority),
        )
    assert left_over(tmp_path) == []


def test_a_link_in_the_export_stops_the_seal_and_is_named(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    day = write_small_day(tmp_path)
    (tmp_path / "export" / "elsewhere").symlink_to("/etc/hostname")
    with pytest.raises(IntakeError, match="elsewhere"):
        seal_day(day, tmp_path / "b.zip", authority)
    assert not (tmp_path / "b.zip").exists()


# Names, relations, and days that nobody has described yet


@pytest.mark.skipif(os.name == "nt", reason="such names cannot be made on Windows")
def test_a_file_whose_name_may_not_stand_in_an_archive_is_sealed_with_its_own_name_recorded(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    day = write_small_day(tmp_path)
    bad = (b"50% off\\.txt", b"\xff\xfe.bin", b"CON.txt", b"Notes.TXT")
    for name in bad:
        Path(os.fsdecode(os.fsencode(tmp_path / "export") + b"/" + name)).write_bytes(name)
    sealed = seal_day(day, tmp_path / "b.zip", authority)
    report = verified((tmp_path / "b.zip").read_bytes(), trusting(authority))
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    _, members = taken_apart((tmp_path / "b.zip").read_bytes())
    originals = {
        str(one["original_name"]) for one in opened_values(members) if "original_name" in one
    }
    # notes.txt and Notes.TXT are twins: one of them keeps its name.
    assert originals - {"notes.txt", "Notes.TXT"} == {
        "50% off\\.txt",
        "hex:fffe2e62696e",
        "CON.txt",
    }
    assert len(originals & {"notes.txt", "Notes.TXT"}) == 1
    assert sealed.files == 14
    assert set(bad) <= set(members.values())


def test_a_correction_names_the_statement_that_it_corrects(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    previous = Previous(
        statement=bytes.fromhex(sealed_day.sealed.statement_sha256),
        relation="correction",
        reason="session times were wrong",
    )
    sealed = seal_day(
        sealed_day.folder / "day.toml", tmp_path / "b.zip", authority, previous=previous
    )
    assert sealed.statement.previous == previous
    report = verified((tmp_path / "b.zip").read_bytes(), trusting(authority))
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)


def test_a_folder_can_be_sealed_before_anybody_has_described_it(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    write_small_day(tmp_path)
    gathered = gather_undescribed(
        tmp_path / "export",
        reference="UNDESCRIBED-1",
        now=SEALED_AT,
        note=sealing_note(document_number="0f", paper="Letter"),
    )
    sealed = seal(
        gathered,
        SealOrder(
            signer=Signer(key=authority.signer.key, certificate=authority.signer.certificate),
            output=tmp_path / "b.zip",
            claimed_time=SEALED_AT,
            random=FixedRandom(),
            time_stamp=lambda signature: stamped(signature, authority),
        ),
    )
    assert sealed.statement.rule_set_entry is None
    assert sealed.statement.entries["finding"] == 0
    report = verified((tmp_path / "b.zip").read_bytes(), trusting(authority))
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    assert report.step(8).outcome is StepOutcome.HOLDS


def test_without_pixel_proof_no_still_has_a_root_and_the_bundle_verifies(
    sealed_day: SealedDay, authority: DemoAuthority, tmp_path: Path
) -> None:
    seal_day(sealed_day.folder / "day.toml", tmp_path / "b.zip", authority, pixel_proof=False)
    bundle = (tmp_path / "b.zip").read_bytes()
    _, members = taken_apart(bundle)
    assert not any("pixel_root" in one for one in opened_values(members))
    assert verified(bundle, trusting(authority)).verdict is Verdict.VERIFIED


def test_a_still_that_is_no_picture_is_sealed_as_a_file(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    day = write_small_day(tmp_path)
    broken = tmp_path / "export" / "stills" / "C3_0003.jpg"
    broken.write_bytes((tmp_path / "export" / "stills" / "C1_0001.jpg").read_bytes()[:400])
    seal_day(day, tmp_path / "b.zip", authority)
    bundle = (tmp_path / "b.zip").read_bytes()
    _, members = taken_apart(bundle)
    entry = next(
        one for one in opened_values(members) if one.get("path") == "export/stills/C3_0003.jpg"
    )
    assert "pixel_root" not in entry
    assert verified(bundle, trusting(authority)).verdict is Verdict.VERIFIED


def test_every_error_here_is_one_of_evidpacks_own() -> None:
    for kind in (UsageError, ExportChangedError, IntakeError, TimeStampUnavailableError):
        assert issubclass(kind, EvidpackError)
