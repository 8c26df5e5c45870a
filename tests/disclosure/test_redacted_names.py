"""What names a redacted still in other entries, or would confirm a guess at it."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.pack import MadePack
from evidpack.disclosure.redacted_names import NOTHING_REDACTED, RedactedNames, names_of_redacted
from evidpack.disclosure.sealed_bundle import SealedEntry, open_sealed_bundle
from evidpack.model.values import JsonValue
from tests.disclosure.changed_days import changed_day
from tests.disclosure.deciding import filled, with_entry
from tests.disclosure.packs import make, opened_bundle
from tests.disclosure.pictures import large_still
from tests.disclosure.redacting import BOX, redacted, still_of
from tests.sealed_days import SealedDay

REDACT = 'use = "relied on"\ndecision = "redact"\nreason = "third-party"\n'

_STRIPS = """
[[log]]
glob = "strips.csv"
record = "data_strip"
format = "csv"
encoding = "utf-8"
delimiter = ","
decimal = "."
clock = "meter"
[log.fields]
still = "Picture"
speed = { column = "Speed", unit = "mph" }
"""


def entry(**values: JsonValue) -> SealedEntry:
    return SealedEntry(number=7, kind="record", values=values, key=bytes(32))


NAMES = RedactedNames(parts=frozenset({"c1_0001.jpg", "ab" * 32}), whole=frozenset({"41"}))


@pytest.mark.parametrize(
    ("values", "closed"),
    [
        ({"path": "export/stills/C1_0001.jpg"}, {"path"}),
        ({"still": "C1_0001.JPG"}, {"still"}),
        ({"stills": ["export/stills/C1_0000.jpg", "export/stills/C1_0001.jpg"]}, {"stills"}),
        ({"sentence": "2 stills are the same: C1_0001.jpg, C1_0002.jpg."}, {"sentence"}),
        ({"sha256": "AB" * 32, "measured": {"digest": "ab" * 32}}, {"sha256", "measured"}),
        ({"image_unique_id": "41", "raw:ImageUniqueID": " 41 "}, {"image_unique_id", "raw:ImageUniqueID"}),
        (
            {"path": "export/stills/C1_0001.jpg", "thumbnail_correlation": 0.9},
            {"path", "thumbnail_correlation"},
        ),
        ({"path": "export/stills/C1_0002.jpg", "thumbnail_correlation": 0.9}, set()),
        ({"sentence": "41 captures of the day", "speed_mph": 41, "capture": "C1"}, set()),
    ],
)  # fmt: skip
def test_the_fields_that_name_it(values: dict[str, JsonValue], closed: set[str]) -> None:
    assert NAMES.fields_in(entry(**values)) == closed


def test_where_nothing_is_redacted_nothing_is_named(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    decisions = load_decisions(filled(draft_decisions(bundle, ["C1"])).encode(), path="d")
    assert names_of_redacted(bundle, decisions) is NOTHING_REDACTED
    assert not NOTHING_REDACTED.fields_in(entry(path="export/stills/C1_0001.jpg"))


def with_identifier(identifier: str) -> Callable[[Path], None]:
    """The first still has this unique image identifier."""

    def change(folder: Path) -> None:
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0xA420] = identifier
        name = "C1_0001.jpg"
        large_still(name).save(folder / "export" / "stills" / name, exif=exif)

    return change


def closed_of(made: MadePack, kind: str) -> set[str]:
    return {
        name
        for one in made.plan.revealed
        if one.values.get("record_kind") == kind
        for name in one.line.closed
    }


def add_file_of_its_size(folder: Path) -> None:
    """So that the still's own record bears its digest, as that of a possible copy does."""
    size = (folder / "export" / "stills" / "C1_0001.jpg").stat().st_size
    (folder / "export" / "blank.txt").write_bytes(b" " * size)


def add_strips(folder: Path) -> None:
    with_identifier("made by a camera")(folder)
    text = "Picture,Speed\nC1_0001.JPG,41\nC2_0002.png,44\n"
    (folder / "export" / "strips.csv").write_text(text, encoding="utf-8")
    path = folder / "day.toml"
    path.write_text(
        path.read_text("utf-8").replace("\n[captures]", _STRIPS + "\n[captures]"), "utf-8"
    )


def test_a_data_strip_that_names_it_is_revealed_without_the_name(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    day = changed_day(tmp_path / "day", sealed_day, add_strips)
    bundle = open_sealed_bundle(io.BytesIO(day.bundle), path="b")
    strip = next(
        one.number
        for one in bundle.entries()
        if one.values.get("record_kind") == "data_strip" and one.values.get("speed_mph") == 41
    )
    text = filled(draft_decisions(bundle, ["C1"]))
    number = still_of(bundle, "C1_0001.jpg")
    release = 'use = "unused"\ndecision = "release"\nreason = "concerns-capture"'
    for one, table in ((number, REDACT), (strip, release)):
        text = with_entry(text, one, table)
    text += BOX.format(entry=number)
    made, _ = make(day, load_decisions(text.encode(), path="d"), tmp_path / "p.zip", bundle=bundle)
    assert closed_of(made, "data_strip") == {"still", "raw:Picture"}


@pytest.mark.parametrize(
    ("identifier", "closed"),
    [
        ("7393c797fa08831fd0a1339d7d942f70", True),
        ("1", True),
        ("C1", False),  # the capture's own identifier, by which stills may be joined
    ],
)
def test_the_unique_image_identifier_is_closed_unless_it_names_the_capture(
    sealed_day: SealedDay, tmp_path: Path, identifier: str, closed: bool
) -> None:
    def change(folder: Path) -> None:
        with_identifier(identifier)(folder)
        add_file_of_its_size(folder)

    day = changed_day(tmp_path / "day", sealed_day, change)
    made, _, _ = redacted(day, tmp_path / "p.zip")
    names = {"image_unique_id", "raw:ImageUniqueID"}
    assert closed_of(made, "still") & names == (names if closed else set())
    assert {"path", "sha256"} <= closed_of(made, "still")
