"""The index as a reader gets it: read back with pypdf, a general library."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pypdf
import pytest

from evidpack.errors import IntakeError
from evidpack.index.content import IndexContent, PreviousSeal
from evidpack.index.index import build_index
from evidpack.index.thumbnails import make_thumbnail
from evidpack.index.wording import CAUTIONS, PLAIN_WORDS
from evidpack.model.findings import Outcome
from tests.index.invented import content, digest, still

LONG = "averylongnamewithoutanyseparator" * 8


def no_picture(path: str) -> None:
    return None


def read(day: IndexContent, thumbnail=no_picture) -> pypdf.PdfReader:
    return pypdf.PdfReader(BytesIO(build_index(day, thumbnail=thumbnail)))


def text_of(reader: pypdf.PdfReader) -> str:
    return "\n".join(page.extract_text() for page in reader.pages)


def run_together(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.fixture(scope="module")
def usual() -> pypdf.PdfReader:
    return read(content(40))


def test_every_digest_stands_whole_in_the_text(usual: pypdf.PdfReader) -> None:
    text = text_of(usual)
    missing = [file.path for file in content(40).files if file.sha256 not in text]
    assert missing == []


def test_chain_head_and_root_stand_on_the_cover_in_groups_of_four(usual: pypdf.PdfReader) -> None:
    cover = usual.pages[0].extract_text()
    for name in ("head", "root"):
        assert digest(name).hex(" ", 2) in cover


def test_every_page_bears_its_number_the_reference_the_root_and_the_warning(
    usual: pypdf.PdfReader,
) -> None:
    count = len(usual.pages)
    assert count > 5
    for number, page in enumerate(usual.pages, start=1):
        text = page.extract_text()
        assert f"page {number} of {count}" in text
        assert "TRU-2026-05-14-A" in text
        assert digest("root").hex() in text
        assert "For the unit and the prosecutor only" in text


def test_outline_leads_through_every_chapter_in_order(usual: pypdf.PdfReader) -> None:
    chapters = [entry for entry in usual.outline if not isinstance(entry, list)]
    assert [entry.title for entry in chapters] == [
        "Cover",
        "What this proves, and what it does not",
        "1  Sessions and paperwork",
        "2  Meters, calibrations and tests",
        "3  Timeline",
        "4  Captures",
        "5  Findings",
        "6  Files",
        "7  How to verify by hand",
        "8  Cautions",
    ]
    pages = [usual.get_destination_page_number(entry) for entry in chapters]
    assert pages == sorted(pages)
    for entry, page in zip(chapters[1:], pages[1:], strict=True):
        assert entry.title.split("  ")[-1] in usual.pages[page].extract_text()


def test_links_of_a_finding_lead_to_its_capture_and_its_file(usual: pypdf.PdfReader) -> None:
    adverse = next(p for p in usual.pages if "The slope of the pulse ranges" in p.extract_text())
    numbers = {page.indirect_reference.idnum: page for page in usual.pages}
    targets = [a.get_object()["/Dest"][0].idnum for a in adverse["/Annots"]]
    texts = [numbers[target].extract_text() for target in targets]
    assert any("Exhibit 2\n" in text for text in texts)
    assert any("6  Files" in text for text in texts)


def test_every_link_leads_to_a_page_of_the_document(usual: pypdf.PdfReader) -> None:
    pages = {page.indirect_reference.idnum for page in usual.pages}
    links = [a.get_object() for page in usual.pages for a in page.get("/Annots", [])]
    assert len(links) > 100
    assert {link["/Dest"][0].idnum for link in links} <= pages
    assert {link["/Subtype"] for link in links} == {"/Link"}


def fonts(reader: pypdf.PdfReader) -> dict[str, bool]:
    """Every font that a page may use, and whether its program is in the file."""
    found: dict[str, bool] = {}
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            entry = font.get_object()
            descriptor = entry.get("/FontDescriptor")
            embedded = descriptor is not None and "/FontFile2" in descriptor.get_object()
            found[entry["/BaseFont"]] = embedded
    return found


def test_every_font_is_embedded_as_a_subset(usual: pypdf.PdfReader) -> None:
    found = fonts(usual)
    assert len(found) >= 3
    assert [name for name, embedded in found.items() if not embedded] == []
    assert all(re.match(r"/[A-Z]{6}\+DejaVuSans", name) for name in found), found


def test_the_adverse_findings_come_first(usual: pypdf.PdfReader) -> None:
    text = text_of(usual)
    chapter = text[text.index("5  Findings") :]
    order = [
        chapter.index("The slope of the pulse ranges"),
        chapter.index("Two image numbers are missing"),
        chapter.index("was compared once only"),
        chapter.index("Serial, type and firmware are those"),
        chapter.index("No such check was asked for"),
    ]
    assert order == sorted(order)
    assert chapter.index("Not adverse") > order[2]


def test_counts_on_the_cover_are_those_of_the_findings(usual: pypdf.PdfReader) -> None:
    day = content(40)
    outcomes = [indexed.finding.outcome for indexed in day.findings]
    cover = usual.pages[0].extract_text()
    row = ["46", str(len(day.records)), "40"]
    row += [
        str(outcomes.count(outcome))
        for outcome in (
            Outcome.FAIL,
            Outcome.QUERY,
            Outcome.NOT_DETERMINABLE,
            Outcome.PASS,
            Outcome.NOT_APPLICABLE,
        )
    ]
    assert f" {' '.join(row)} " in " ".join(cover.split())
    assert "3 findings are adverse, 1 of them because something required was not supplied" in cover


def test_the_time_of_sealing_is_said_to_be_the_sealers_claim(usual: pypdf.PdfReader) -> None:
    cover = " ".join(usual.pages[0].extract_text().split())
    assert (
        "2026-05-15 08:41:07 +00:00, as claimed by the sealer; run verify for whether a time "
        "stamp establishes it"
    ) in cover


def test_plain_words_are_some_120_and_every_caution_is_shown(usual: pypdf.PdfReader) -> None:
    assert 100 <= len(PLAIN_WORDS.split()) <= 140
    text = run_together(text_of(usual))
    assert run_together(PLAIN_WORDS) in text
    for caution in CAUTIONS:
        assert run_together(caution.replace("中", "[U+4E2D]")) in text


def test_a_sealing_time_before_the_last_capture_is_said(usual: pypdf.PdfReader) -> None:
    early = content(3)
    early = replace(early, claimed_sealing_time=early.claimed_sealing_time.replace(day=14, hour=6))
    assert "before the last capture" in " ".join(text_of(read(early)).split())


def test_an_earlier_seal_is_named_with_its_digest_and_reason() -> None:
    previous = PreviousSeal(
        relation="correction", statement_sha256=digest("old").hex(), reason="wrong certificate"
    )
    text = run_together(text_of(read(content(3, previous=previous))))
    assert f"correctionofthesealstatementwithSHA-256{digest('old').hex()}" in text
    assert "Reason:wrongcertificate" in text


def test_a_day_without_anything_is_still_a_whole_document() -> None:
    empty = content(0, files=(), records=(), findings=(), undescribed=True, date=None)
    text = text_of(read(empty))
    assert "There is no capture among the records." in text
    assert "No session was described." in text
    assert text.count("None.") == 2


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    "names", ["", LONG, "Ωμέγα/Фото/中文名字_", "with spaces in it and & <b>/"]
)
def test_no_text_leaves_the_margins(paper: str, names: str) -> None:
    day = content(7, paper=paper, names=names, unit=LONG, day_reference="R-" + "LONG." * 40)
    reader = read(day)
    wide = float(reader.pages[0].mediabox.width)
    high = float(reader.pages[0].mediabox.height)
    assert (wide, high) == pytest.approx((595.276, 841.89) if paper == "A4" else (612, 792))
    outside: list[tuple[int, str, float]] = []
    seen = 0
    for number, page in enumerate(reader.pages, start=1):
        for text, x, y, end in drawn(page):
            seen += 1
            if not (53 <= x <= wide - 53 and end <= wide - 52 and 25 <= y <= high - 25):
                outside.append((number, text, end))
    assert seen > 300
    assert outside == []


def drawn(page: pypdf.PageObject):
    """Each text drawn, where its base line begins, and where it ends by the font's own widths."""
    fonts = {name: font.get_object() for name, font in page["/Resources"]["/Font"].items()}
    size, font, x, y = 0.0, None, 0.0, 0.0
    stream = pypdf.generic.ContentStream(page.get_contents(), page.pdf)
    for operands, operator in stream.operations:
        if operator == b"Tf":
            font, size = fonts[operands[0]], float(operands[1])
        elif operator == b"Tm":
            x, y = float(operands[4]), float(operands[5])
        elif operator == b"Tj":
            codes = operands[0].original_bytes
            wide = sum(float(font["/Widths"][code]) for code in codes) * size / 1000
            yield codes.decode("latin-1"), x, y, x + wide
            x += wide


def test_long_names_are_wrapped_and_wholly_there() -> None:
    day = content(3, names=LONG + "/")
    text = run_together(text_of(read(day)))
    for file in day.files:
        assert run_together(file.path) in text


def test_greek_cyrillic_and_latin_names_read_back_as_they_are() -> None:
    text = run_together(text_of(read(content(3, names="Ωμέγα_Фотография_Žluťoučký_"))))
    assert "Ωμέγα_Фотография_Žluťoučký_C0001_00001.jpg" in text


@pytest.mark.parametrize(
    ("original", "printed"),
    [
        ("中文", "[U+4E2D][U+6587]"),
        ("a\x07b\nc", "a[U+0007]b[U+000A]c"),
        ("right\u202eleft", "right[U+202E]left"),
        ("soft\u00adhyphen", "soft[U+00AD]hyphen"),
        ("no-break\u00a0space", "no-break[U+00A0]space"),
        ("face\U0001f600", "face[U+1F600]"),
        ("lone\ud800", "lone[U+D800]"),
        ("[U+4E2D]", "[U+005B]U+4E2D]"),
        ("<b>&amp;</b><a href='x'>(\\)", "<b>&amp;</b><a href='x'>(\\)"),
    ],
)
def test_what_cannot_be_printed_is_given_by_code_point(original: str, printed: str) -> None:
    day = content(1)
    files = [replace(file, original_name=original) for file in day.files[:1]]
    text = run_together(text_of(read(replace(day, files=files))))
    assert f"originalname:{run_together(printed)}" in text


BUILD = """
import sys
sys.path.insert(0, {root!r})
from tests.index.invented import content, still
from evidpack.index.index import build_index
from evidpack.index.thumbnails import make_thumbnail
from io import BytesIO
pdf = build_index(content(12), thumbnail=lambda p: make_thumbnail(BytesIO(still(p))), workers={n})
sys.stdout.buffer.write(pdf)
"""


def test_separate_processes_give_the_same_bytes_whatever_their_environment() -> None:
    root = str(Path(__file__).parents[2])
    built = []
    for workers, extra in (
        (1, {}),
        (3, {"SOURCE_DATE_EPOCH": "86400", "TZ": "Asia/Tokyo", "PYTHONHASHSEED": "7"}),
        (1, {"RL_useA85": "0", "RL_invariant": "0", "RL_pageCompression": "0", "LC_ALL": "C"}),
    ):
        script = BUILD.format(root=root, n=workers)
        done = subprocess.run(
            [sys.executable, "-c", script], capture_output=True, check=True, env=os.environ | extra
        )
        built.append(done.stdout)
    assert built[0][:5] == b"%PDF-"
    assert built[0] == built[1]
    assert built[0] == built[2]


def test_one_changed_value_changes_the_bytes() -> None:
    one = build_index(content(3), thumbnail=no_picture)
    other = build_index(content(3, document_number="7Q4M-90TZ-K4"), thumbnail=no_picture)
    assert one != other


def test_dates_of_the_file_are_the_claimed_sealing_time(usual: pypdf.PdfReader) -> None:
    claimed = content(1).claimed_sealing_time
    assert usual.metadata.creation_date == claimed
    assert usual.metadata.modification_date == claimed


def test_pictures_are_stored_once_and_a_missing_one_is_said() -> None:
    jpeg = make_thumbnail(BytesIO(still()))

    def thumbnail(path: str) -> bytes | None:
        if "C0001" in path:
            raise IntakeError("can't be read")
        if "C0002" in path:
            return b"no JPEG at all"
        return None if "C0003" in path else jpeg

    reader = read(content(6), thumbnail)
    assert text_of(reader).count("this still can't be shown") == 3
    images = {image.data for page in reader.pages for image in page.images}
    assert len(images) == 1


def test_a_row_longer_than_a_page_goes_on_with_its_column_titles() -> None:
    day = content(1)
    words = [f"word{number}" for number in range(3000)]
    first = replace(
        day.findings[0], finding=replace(day.findings[0].finding, sentence=" ".join(words))
    )
    reader = read(replace(day, findings=[first, *day.findings[1:]]))
    text = " ".join(text_of(reader).split())
    missing = [word for word in words if f"{word} " not in text]
    assert missing == []
    full = [page.extract_text() for page in reader.pages if "word1500 " in page.extract_text()]
    assert all("What it says" in page for page in full)


def test_building_leaves_the_pdf_librarys_settings_as_they_were() -> None:
    from reportlab import rl_config

    before = (rl_config.useA85, rl_config.invariant, rl_config.pdfComments)
    build_index(content(1), thumbnail=no_picture)
    assert (rl_config.useA85, rl_config.invariant, rl_config.pdfComments) == before
