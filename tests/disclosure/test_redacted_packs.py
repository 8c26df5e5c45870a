"""Packs with redacted stills: proved tile by tile, and nothing of the original stays."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from evidpack.container import layout
from evidpack.disclosure.pack import MadePack
from evidpack.disclosure.sealed_bundle import open_sealed_bundle
from evidpack.errors import ProofError, UsageError
from evidpack.verifying.report import Verdict
from tests.bundles import failing_steps, fault_texts
from tests.disclosure.packs import parts, resigned, verified_pack
from tests.disclosure.redacting import redacted, still_of
from tests.sealed_days import SealedDay, seal_day
from tests.small_day import write_small_day


def test_a_redacted_copy_is_proved_and_the_original_is_not_there(
    big_day: SealedDay, with_box: tuple[MadePack, bytes, int]
) -> None:
    made, pack, number = with_box
    report = verified_pack(pack, big_day.trust)
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    line = made.plan.lines[number]
    assert line.closed == ("modified", "path", "sha256", "size")
    members = parts(pack)
    assert "data/export/stills/C1_0001.jpg" not in members
    picture = Image.open(io.BytesIO(members[layout.exhibit_picture(line.exhibit or 0)]))
    assert picture.size == (200, 150)
    assert picture.getpixel((44, 4)) == (128, 128, 128)
    tiles = members[layout.exhibit_tiles(line.exhibit or 0)].decode().splitlines()
    assert len(tiles) == 7 * 5
    assert {tile.split()[0] for tile in tiles} == {"open", "closed"}


def test_whatever_names_the_original_is_closed_in_other_entries_too(
    big_day: SealedDay, with_box: tuple[MadePack, bytes, int]
) -> None:
    made, pack, _number = with_box
    original = (big_day.folder / "export/stills/C1_0001.jpg").read_bytes()
    for secret in (b"C1_0001", b"hidden words", original[200:260], b"Exif"):
        assert [name for name, data in parts(pack).items() if secret in data] == [], secret
    closed = {line.entry: line.closed for line in made.plan.lines if line.closed}
    assert any("stills" in names for names in closed.values())  # the capture's list
    assert len(closed) > 2


def test_the_redaction_record_says_what_why_who_and_when(
    with_box: tuple[MadePack, bytes, int],
) -> None:
    made, pack, number = with_box
    record = json.loads(parts(pack)[layout.DISCLOSURE_REDACTIONS])
    assert record["entry"] == number
    assert record["exhibit"] == made.plan.lines[number].exhibit
    assert record["boxes"] == [[40, 2, 8, 4]]
    assert record["reason"] == "It holds data of other people."
    assert record["by"] == "C. Nobody"
    assert record["at"] == "2026-06-01T10:00:00+01:00"


def changed_pixel(members: dict[str, bytes], exhibit: int) -> None:
    name = layout.exhibit_picture(exhibit)
    picture = Image.open(io.BytesIO(members[name]))
    picture.putpixel((190, 140), (1, 2, 3))
    out = io.BytesIO()
    picture.save(out, "PNG")
    members[name] = out.getvalue()


def shown_under_the_cover(members: dict[str, bytes], exhibit: int) -> None:
    name = layout.exhibit_picture(exhibit)
    picture = Image.open(io.BytesIO(members[name]))
    picture.putpixel((44, 4), (1, 2, 3))
    out = io.BytesIO()
    picture.save(out, "PNG")
    members[name] = out.getvalue()


def hidden_text(members: dict[str, bytes], exhibit: int) -> None:
    from PIL.PngImagePlugin import PngInfo

    name = layout.exhibit_picture(exhibit)
    info = PngInfo()
    info.add_text("comment", "secret")
    out = io.BytesIO()
    Image.open(io.BytesIO(members[name])).save(out, "PNG", pnginfo=info)
    members[name] = out.getvalue()


def wrong_tile_salt(members: dict[str, bytes], exhibit: int) -> None:
    name = layout.exhibit_tiles(exhibit)
    lines = members[name].decode().splitlines()
    place = next(n for n, line in enumerate(lines) if line.startswith("open"))
    lines[place] = "open " + "00" * 16
    members[name] = ("\n".join(lines) + "\n").encode()


def more_closed_than_recorded(members: dict[str, bytes], exhibit: int) -> None:
    name = layout.exhibit_tiles(exhibit)
    lines = members[name].decode().splitlines()
    lines[-1] = "closed " + "00" * 32
    members[name] = ("\n".join(lines) + "\n").encode()


def no_record(members: dict[str, bytes], exhibit: int) -> None:
    del members[layout.DISCLOSURE_REDACTIONS]


COPY_CHANGES = {
    changed_pixel: "outside the redaction the copy is not the still that was sealed",
    shown_under_the_cover: "is closed and shows something",
    hidden_text: "a chunk tEXt, and a redacted copy holds pixels alone",
    wrong_tile_salt: "outside the redaction",
    more_closed_than_recorded: "the redaction record is missing, or is about other tiles",
    no_record: "the redaction record is missing",
}


@pytest.mark.parametrize(("change", "said"), COPY_CHANGES.items())
def test_no_change_of_a_redacted_copy_passes_even_signed(
    big_day: SealedDay,
    with_box: tuple[MadePack, bytes, int],
    change: Callable[[dict[str, bytes], int], None],
    said: str,
) -> None:
    made, pack, number = with_box
    members = parts(pack)
    change(members, made.plan.lines[number].exhibit or 0)
    report = verified_pack(resigned(members, big_day.authority), big_day.trust)
    assert 4 in failing_steps(report)
    assert said in fault_texts(report)


def test_a_lossless_still_is_redacted_too(big_day: SealedDay, tmp_path: Path) -> None:
    _, pack, _ = redacted(big_day, tmp_path / "p.zip", capture="C2", name="C2_0002.png")
    assert verified_pack(pack, big_day.trust).verdict is Verdict.VERIFIED


def test_a_polygon_is_redacted(big_day: SealedDay, tmp_path: Path) -> None:
    number = still_of(open_sealed_bundle(io.BytesIO(big_day.bundle), path="b"), "C1_0001.jpg")
    more = (
        f'[[redact]]\nentry = {number}\npolygons = [[[40, 2], [60, 2], [50, 12]]]\nreason = "x y"\n'
    )
    _, pack, _ = redacted(big_day, tmp_path / "p.zip", more=more)
    assert verified_pack(pack, big_day.trust).verdict is Verdict.VERIFIED


def test_a_region_outside_the_picture_is_refused(big_day: SealedDay, tmp_path: Path) -> None:
    number = still_of(open_sealed_bundle(io.BytesIO(big_day.bundle), path="b"), "C1_0001.jpg")
    more = f'[[redact]]\nentry = {number}\nboxes = [[900, 900, 5, 5]]\nreason = "x"\n'
    with pytest.raises(UsageError, match="a region lies outside the picture"):
        redacted(big_day, tmp_path / "p.zip", more=more)
    assert not (tmp_path / "p.zip").exists()


def test_another_decoder_is_said_and_not_worked_around(
    big_day: SealedDay, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from evidpack.disclosure import redacted_stills
    from evidpack.intake.pixels import decode_rgb

    def other(data: bytes, *, path: str) -> tuple[bytes, int, int, str]:
        rgb, width, height, form = decode_rgb(data, path=path)
        return bytes([rgb[0] ^ 1]) + rgb[1:], width, height, form

    monkeypatch.setattr(redacted_stills, "decode_rgb", other)
    with pytest.raises(ProofError, match="does not decode here to the pixels that were sealed"):
        redacted(big_day, tmp_path / "p.zip")


def test_without_a_pixel_proof_a_still_cannot_be_redacted(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    path = tmp_path / "bundle.zip"
    day_path = write_small_day(tmp_path)
    sealed = seal_day(day_path, path, sealed_day.authority, pixel_proof=False)
    day = SealedDay(
        folder=tmp_path,
        path=path,
        bundle=path.read_bytes(),
        authority=sealed_day.authority,
        trust=sealed_day.trust,
        sealed=sealed,
    )
    with pytest.raises(UsageError, match="its pixels were not committed to"):
        redacted(day, tmp_path / "p.zip")
