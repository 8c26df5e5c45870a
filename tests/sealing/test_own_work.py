"""The sealer's check of its own work: what it refuses, and that then nothing is left."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.container.zip_writer import Written
from evidpack.errors import SealError
from evidpack.trust.authority import DemoAuthority
from evidpack.verifying.own_work import require_own_work
from tests.sealed_days import SealedDay, seal_day, stamped
from tests.small_day import write_small_day


def as_written(bundle: bytes) -> dict[str, Written]:
    """What the writer of this bundle told of its payload."""
    archive = read_archive(io.BytesIO(bundle), path="bundle.zip")
    manifest = archive.read(layout.MANIFEST, limit=10**6).decode()
    digests = {line[66:]: bytes.fromhex(line[:64]) for line in manifest.splitlines()}
    return {
        member.name: Written(
            name=member.name,
            size=member.size,
            crc32=member.crc32,
            offset=member.offset,
            digest=digests[member.name],
        )
        for member in archive.members
        if member.name.startswith(layout.DATA)
    }


def refused(bundle: bytes, compared: dict[str, Written]) -> SealError:
    with pytest.raises(SealError, match="just written does not verify") as caught:
        require_own_work(io.BytesIO(bundle), path="bundle.zip", compared=compared)
    assert "keep the export as it is" in str(caught.value.hint)
    return caught.value


def changed(bundle: bytes, name: str) -> bytes:
    """The bundle with the last byte but one of a member changed."""
    member = read_archive(io.BytesIO(bundle), path="bundle.zip").member(name)
    data = bytearray(bundle)
    data[member.offset + member.size - 2] ^= 1
    return bytes(data)


def test_what_was_made_passes_read_again_or_compared(sealed_day: SealedDay) -> None:
    for compared in ({}, as_written(sealed_day.bundle)):
        require_own_work(io.BytesIO(sealed_day.bundle), path="bundle.zip", compared=compared)


@pytest.mark.parametrize(
    ("name", "step"),
    [
        (layout.LEDGER, 2),
        (layout.OPENINGS, 2),
        (layout.INDEX, 2),
        (layout.VERIFY, 2),
        (layout.STATEMENT, 1),
        (layout.SIGNATURE, 2),
        (layout.TOKEN, 2),
        (layout.MANIFEST, 2),
        (layout.BAG_INFO, 2),
        (layout.BAGIT, 2),
        (layout.TAG_MANIFEST, 2),
    ],
)
def test_another_byte_in_any_file_beside_the_payload_is_found(
    sealed_day: SealedDay, name: str, step: int
) -> None:
    found = refused(changed(sealed_day.bundle, name), as_written(sealed_day.bundle))
    assert f"(step {step})" in found.message


def test_a_payload_that_was_not_compared_is_read(sealed_day: SealedDay) -> None:
    name = layout.DATA + "export/notes.txt"
    compared = as_written(sealed_day.bundle)
    del compared[name]
    assert refused(changed(sealed_day.bundle, name), compared).path == name


def test_a_digest_that_the_writer_told_wrongly_is_found(sealed_day: SealedDay) -> None:
    name = layout.DATA + "export/notes.txt"
    compared = as_written(sealed_day.bundle)
    right = compared[name]
    compared[name] = Written(
        name=name, size=right.size, crc32=right.crc32, offset=right.offset, digest=bytes(32)
    )
    found = refused(sealed_day.bundle, compared)
    assert found.path == name
    assert "(step 2)" in found.message


@pytest.mark.parametrize("cut", [1, 40, 2_000])
def test_a_file_that_ends_too_early_is_found(sealed_day: SealedDay, cut: int) -> None:
    found = refused(sealed_day.bundle[:-cut], as_written(sealed_day.bundle))
    assert "(step 1)" in found.message


def test_a_bundle_that_changes_while_it_is_made_gets_no_name(
    authority: DemoAuthority, tmp_path: Path
) -> None:
    day = write_small_day(tmp_path / "day")
    (tmp_path / "day" / "export" / "film.bin").write_bytes(bytes(range(256)) * 4_000)
    target = tmp_path / "out"
    target.mkdir()

    def meddling(signature: bytes) -> bytes:
        """The time stamp is asked for when the payload is written already."""
        [part] = target.glob(".bundle.zip.*.part")
        with part.open("r+b") as stream:
            stream.seek(4)
            stream.write(b"?")  # the version in the first local header
        return stamped(signature, authority)

    with pytest.raises(SealError, match="just written does not verify"):
        seal_day(day, target / "bundle.zip", authority, time_stamp=meddling)
    assert list(target.iterdir()) == []
