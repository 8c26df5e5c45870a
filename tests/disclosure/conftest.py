"""A pack of the small day, made once."""

from __future__ import annotations

import pytest
from PIL import Image

from evidpack.disclosure.pack import MadePack
from tests.disclosure.packs import simple_pack
from tests.disclosure.pictures import large_still, unique_identifier
from tests.disclosure.redacting import redacted
from tests.sealed_days import SealedDay, seal_day, trusting
from tests.small_day import write_small_day


@pytest.fixture(scope="session")
def made(sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory) -> tuple[MadePack, bytes]:
    return simple_pack(sealed_day, tmp_path_factory.mktemp("pack") / "pack.zip")


@pytest.fixture(scope="session")
def pack(made: tuple[MadePack, bytes]) -> bytes:
    return made[1]


@pytest.fixture(scope="session")
def big_day(sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory) -> SealedDay:
    """The small day with larger stills, so that a redaction leaves tiles open."""
    folder = tmp_path_factory.mktemp("big")
    day_path = write_small_day(folder)
    for name in ("C1_0001.jpg", "C2_0002.png"):
        image = large_still(name)
        exif = Image.Exif()
        exif[0x010E] = "hidden words"
        # As a camera may: an identifier made from the picture, which confirms a guess at it.
        exif.get_ifd(0x8769)[0xA420] = unique_identifier(image)
        image.save(folder / "export" / "stills" / name, exif=exif)
    path = folder / "bundle.zip"
    sealed = seal_day(day_path, path, sealed_day.authority)
    return SealedDay(
        folder=folder,
        path=path,
        bundle=path.read_bytes(),
        authority=sealed_day.authority,
        trust=trusting(sealed_day.authority),
        sealed=sealed,
    )


@pytest.fixture(scope="session")
def with_box(
    big_day: SealedDay, tmp_path_factory: pytest.TempPathFactory
) -> tuple[MadePack, bytes, int]:
    return redacted(big_day, tmp_path_factory.mktemp("redacted") / "p.zip")
