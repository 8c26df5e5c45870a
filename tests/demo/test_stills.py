from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import ExifTags, Image, ImageChops, ImageStat

from evidpack.demo import places
from evidpack.intake.embedded_thumbnails import thumbnail_values
from evidpack.intake.stills import read_header
from tests.demo.reading_back import rows


@pytest.fixture(scope="module")
def stills(export: Path) -> list[Path]:
    return sorted((export / "stills").iterdir())


def test_every_still_opens_at_one_size(stills: list[Path]) -> None:
    assert len(stills) == 44
    for path in stills:
        with Image.open(path) as picture:
            picture.load()
            assert (picture.format, picture.mode, picture.size) == ("JPEG", "RGB", (1280, 720))


def test_every_still_says_when_and_by_which_camera(stills: list[Path]) -> None:
    identifiers = set()
    for path in stills:
        with Image.open(path) as picture:
            inner = picture.getexif().get_ifd(0x8769)
        assert inner[0x9003].startswith("2026:05:14 ")
        assert inner[0x9011] == "+01:00"
        assert len(inner[0x9291]) == 2
        assert inner[0xA431] == places.METER_SERIAL
        identifiers.add(inner[0xA420])
    assert len(identifiers) == len(stills)


def test_thumbnails_show_the_picture(stills: list[Path]) -> None:
    for path in stills[:6]:
        with Image.open(path) as picture:
            small = picture.getexif().get_ifd(ExifTags.IFD.IFD1)
            tiff = picture.info["exif"][6:]
            whole = picture.resize((160, 90), Image.Resampling.BOX)
        thumbnail = Image.open(io.BytesIO(tiff[small[0x0201] :][: small[0x0202]]))
        assert thumbnail.size == (160, 90)
        apart = ImageStat.Stat(ImageChops.difference(thumbnail.convert("RGB"), whole)).mean
        assert max(apart) < 8, path.name


def test_the_figures_that_the_thumbnail_limit_rests_on(stills: list[Path]) -> None:
    """docs/checks.md, check 11, and the rule sets print these."""
    wholes, thumbnails = [], []
    for path in stills:
        data = path.read_bytes()
        thumbnail = read_header(io.BytesIO(data), size=len(data)).thumbnail
        assert thumbnail is not None
        assert thumbnail_values(io.BytesIO(data), thumbnail) == {"thumbnail_correlation": 0.99}
        with Image.open(path) as picture:
            wholes.append(picture.convert("L").resize((160, 90), Image.Resampling.BOX))
        thumbnails.append(thumbnail)
    wrong = []
    for here, whole in enumerate(wholes):
        still = io.BytesIO()
        whole.save(still, "JPEG", quality=95)
        for there, thumbnail in enumerate(thumbnails):
            if here != there:
                wrong.append(thumbnail_values(still, thumbnail)["thumbnail_correlation"])
    assert len(wrong) == 1892
    assert sorted(wrong)[len(wrong) // 2] == pytest.approx(0.20, abs=0.02)
    assert sum(value >= 0.75 for value in wrong) == pytest.approx(10, abs=3)


def test_pictures_of_two_captures_differ_beyond_the_strip(stills: list[Path]) -> None:
    upper = (0, 0, 1280, 650)
    with Image.open(stills[0]) as one, Image.open(stills[1]) as two:
        apart = ImageStat.Stat(ImageChops.difference(one.crop(upper), two.crop(upper))).mean
    assert max(apart) > 5


def test_data_strip_log_repeats_the_reading(export: Path, stills: list[Path]) -> None:
    readings = {row["Ref"]: row for row in rows(export / "logs" / "readings.csv")}
    strips = rows(export / "logs" / "data_strips.csv")
    assert sorted(row["Still"] for row in strips) == [path.name for path in stills]
    for strip in strips:
        reading = readings[strip["Still"][:4]]
        for name in ("Speed mph", "Range m", "Date", "Time"):
            assert strip[name] == reading[name], strip["Still"]
        assert strip["Site"] == {"S1": "TM-07", "S2": "TM-21"}[reading["Session"]]
