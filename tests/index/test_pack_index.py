"""The index of a pack, read back with pypdf."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import datetime

import pypdf
import pytest

from evidpack.errors import UsageError
from evidpack.index.pack_content import PackContent, PackExhibit, PackFinding, WithheldClass
from evidpack.index.pack_index import build_pack_index
from evidpack.index.pack_wording import (
    NOT_VERIFIED_BEFORE,
    PACK_CAUTIONS,
    PACK_NOT_PROVED,
    PACK_PLAIN_WORDS,
    PACK_PROVED,
    PACK_WARNING,
)
from evidpack.model.findings import Outcome
from tests.index.invented_pack import (
    CONTENT,
    EXHIBITS,
    LONG_NAME,
    digest,
    finding,
    first_issue,
    thumbnail,
)


def reader_of(content: PackContent = CONTENT) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(build_pack_index(content, thumbnail=thumbnail)))


def plain(text: str) -> str:
    return " ".join(text.split())


def pages(content: PackContent = CONTENT) -> list[str]:
    return [plain(page.extract_text()) for page in reader_of(content).pages]


def outline(reader: pypdf.PdfReader) -> Iterator[str]:
    def walk(items: list[object]) -> Iterator[str]:
        for item in items:
            if isinstance(item, list):
                yield from walk(item)
            else:
                yield str(item.title)  # type: ignore[attr-defined]

    yield from walk(reader.outline)


def part(text: str, begin: str, end: str) -> str:
    """What stands between two headings."""
    return text.split(begin, 1)[1].split(end, 1)[0]


@pytest.fixture(scope="module")
def whole() -> str:
    return " ".join(pages())


def test_the_first_page_says_what_it_is_for_whom_and_by_whom() -> None:
    first = pages()[0]
    for expected in (
        "Index of a disclosure pack", "Case TM/2026/0417, issue 2",
        "Quillfeather & Moss, for the defence", "capture 7",
        "Day TRU-2026-05-14-A", "H. Undersedge, 2026-06-02 16:05:00 +01:00",
        "Thistlemoor Roads Unit, disclosure", digest("certificate").hex(" ", 2),
        "2026-06-03 11:20:00 +01:00, as claimed by the discloser", "K7QM-2XHP",
        "read this code back", digest("issue 1").hex(" ", 2), digest("seal").hex(" ", 2),
        digest("head").hex(" ", 2), digest("root").hex(" ", 2),
    ):  # fmt: skip
        assert expected in first


def test_it_counts_what_became_of_every_entry() -> None:
    first = pages()[0]
    assert "Withdrawn 70 5 2 1 61 1" in first
    assert "70 entries: 40 files, 20 records, 10 findings" in first


def test_relied_on_and_unused_stand_apart(whole: str) -> None:
    exhibits = part(whole, "1 What is disclosed", "2 What is redacted")
    relied_on, unused = exhibits.split("Unused What the prosecution does not rely on")
    assert "Still: first picture of capture 7" in relied_on
    assert "Reading: capture 7" in relied_on
    assert "And findings, shown in chapter 3: exhibit 6." in relied_on
    assert "And findings, shown in chapter 3: exhibit 7." in unused
    # What is not shown is described once, in the chapter on it.
    assert "Described and not shown, in chapter 4: exhibits 8–9." in unused
    described = whole.partition("4 What is not shown")[2]
    for words in ("A clip of about two minutes", "Sound recorded at the window"):
        assert words not in exhibits
        assert words in described


def test_each_exhibit_shows_number_entry_file_values_reason_and_what_is_closed(whole: str) -> None:
    exhibits = part(whole, "1 What is disclosed", "2 What is redacted")
    for expected in (
        "data/export/stills/C007_0031.jpg", "size: 482 113 bytes", "data/redacted/exhibit-2.png",
        "speed: 71 mph", "range: 214.6 m", "record 40", "file 13",
        "kept closed: modified, path, sha256, size", "kept closed: operators, raw:Operators",
        "It concerns a capture in this case.",
    ):  # fmt: skip
        assert expected in exhibits


def test_what_is_new_is_marked_in_a_later_issue_alone() -> None:
    later = " ".join(pages())
    assert "file 14 new" in later
    assert "file 12 new" not in later
    assert "What is new since the earlier issue – Exhibits 3 and 7 are new." in later
    first = " ".join(pages(first_issue()))
    assert "What is new" not in first
    assert "none: this is the first" in first


def test_an_issue_without_changes_says_so() -> None:
    assert "Nothing: this issue shows what the earlier one showed." in " ".join(
        pages(replace(CONTENT, changes=()))
    )


def test_it_says_what_is_redacted_how_much_why_by_whom_and_when(whole: str) -> None:
    redactions = part(whole, "2 What is redacted, and why", "3 Findings")
    for expected in (
        "27 of 1900 squares, 1.4 % of 1600 × 1200 pixels",
        "asked for: a box of 180 × 48 pixels at 640, 512", "asked for: a polygon with 5 corners",
        "It holds data of other people.", "H. Undersedge", "2026-06-02 16:05:00 +01:00",
        "widened by at least 16 pixels", "Fields kept closed", "operators, raw:Operators",
    ):  # fmt: skip
        assert expected in redactions


def test_a_pack_without_redaction_says_so() -> None:
    assert "No picture in this pack is redacted." in " ".join(pages(first_issue()))


def test_findings_stand_with_the_adverse_first(whole: str) -> None:
    findings = part(whole, "3 Findings", "4 What is not shown")
    assert findings.index("Image numbers 33 and 34 are missing") < findings.index("100.1 m")
    for expected in (
        "8 Image numbers continuous", "query", "What helps: The operator can say",
        "limit 0.3 m", "Limit from: rule set General, edition 1", "relied on finding 60",
        "Why shown: It concerns the session", "unused finding 61 new",
        "In the seal, about the whole day 6 2 0 1 1", "Shown in this pack 1 1 0 0 0",
    ):  # fmt: skip
        assert expected in findings


def test_findings_that_are_not_shown_are_counted() -> None:
    content = replace(CONTENT, undisclosed_adverse=1)
    said = "Counted by the seal and not shown in this pack: 1 query or failure."
    assert said in " ".join(pages(content))
    assert "Counted by the seal and not shown" not in " ".join(pages())
    assert "3 queries and failures." in " ".join(pages(replace(CONTENT, undisclosed_adverse=3)))


def test_a_finding_with_closed_fields_is_described_in_the_deciders_words() -> None:
    closed = replace(
        EXHIBITS[6], closed=("measured", "sentence"), became="redacted",
        description="A gap in the image numbers of another session.",
    )  # fmt: skip
    text = " ".join(pages(replace(CONTENT, exhibits=(*EXHIBITS[:6], closed, *EXHIBITS[7:]))))
    findings = part(text, "3 Findings", "4 What is not shown")
    assert "A gap in the image numbers of another session." in findings
    assert "kept closed: measured, sentence" in findings


def test_a_pack_without_findings_says_so() -> None:
    text = " ".join(pages(replace(CONTENT, findings=())))
    assert "No finding is disclosed in this issue." in text


def test_what_is_not_shown_is_listed_by_class_and_count(whole: str) -> None:
    hidden = part(whole, "4 What is not shown", "5 How to verify")
    for expected in (
        "To be viewed by appointment", "8 A clip of about two minutes", "Withheld, and described",
        "9 Sound recorded at the window", "Withdrawn", "10 Disclosed in an earlier issue.",
        "0, 1, 4–11, 15–39", "36 Not disclosed here", "17 Not disclosed here",
        "Not due to this recipient.",
    ):  # fmt: skip
        assert expected in hidden


def test_nothing_withheld_without_description_is_said() -> None:
    assert "Nothing is withheld without a description." in " ".join(
        pages(replace(CONTENT, withheld=()))
    )


def test_it_says_what_is_proved_and_what_is_not_in_plain_words(whole: str) -> None:
    for text in (PACK_PLAIN_WORDS, *PACK_PROVED, *PACK_NOT_PROVED, *PACK_CAUTIONS):
        assert plain(text) in whole


def test_the_plain_words_could_be_said_by_a_witness() -> None:
    assert 90 <= len(PACK_PLAIN_WORDS.split()) <= 160


def test_it_says_by_which_report_the_bundle_was_verified_before_or_that_it_was_not() -> None:
    first = pages()[0]
    assert "checked on 2026-06-02 16:05:00 +01:00 with the outcome “verified”" in first
    assert digest("report").hex(" ", 2) in first
    assert plain(NOT_VERIFIED_BEFORE) in " ".join(pages(first_issue()))


def test_commands_to_verify_stand_whole(whole: str) -> None:
    assert "sha256sum -c manifest-sha256.txt" in whole
    assert "-content disclosure/statement.json -CAfile ../AUTHORITY.pem" in whole
    assert "no file is there that was not signed for" in " ".join(whole.split())
    assert "evidpack verify PACK.zip --anchor AUTHORITY.pem" in whole


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_page_has_head_number_and_warning(paper: str) -> None:
    found = pages(replace(CONTENT, paper=paper))  # type: ignore[arg-type]
    for number, text in enumerate(found, start=1):
        assert f"page {number} of {len(found)}" in text
        assert "Index of a disclosure pack, issue 2 · pack-2-5f0c11d2a9b7" in text
        assert f"Digest of the contents {digest('contents').hex()}" in text
        assert PACK_WARNING in text


def test_the_outline_leads_to_every_chapter() -> None:
    titles = list(outline(reader_of()))
    for expected in (
        "Cover", "What this proves, and what it does not", "1 What is disclosed", "Relied on",
        "Unused", "2 What is redacted, and why", "3 Findings", "4 What is not shown",
        "Withheld, by class and count", "5 How to verify", "6 Cautions",
    ):  # fmt: skip
        assert expected in [plain(title) for title in titles]


def test_every_link_leads_somewhere() -> None:
    reader = reader_of()
    targets = [
        annotation.get_object()["/Dest"]
        for page in reader.pages
        for annotation in page.get("/Annots", [])
    ]
    assert len(targets) >= 3
    for target in targets:
        found = target.get_object() if hasattr(target, "get_object") else target
        assert found[0].get_object()["/Type"] == "/Page"


def texts_at(reader: pypdf.PdfReader) -> Iterator[tuple[float, float, str]]:
    for page in reader.pages:
        found: list[tuple[float, float, str]] = []

        def visit(text, _cm, matrix, _font, _size, found=found) -> None:  # type: ignore[no-untyped-def]
            if text.strip():
                found.append((matrix[4], matrix[5], text))

        page.extract_text(visitor_text=visit)
        yield from found


def test_no_text_begins_outside_the_margins_and_long_names_are_whole() -> None:
    reader = reader_of()
    width = float(reader.pages[0].mediabox.width)
    for x, y, _ in texts_at(reader):
        assert 0 <= x < width - 50
        assert y >= 0
    joined = "".join(page.extract_text() for page in reader.pages)
    assert re.sub(r"\s", "", LONG_NAME) in re.sub(r"\s", "", joined)


def test_a_picture_that_cannot_be_shown_says_so() -> None:
    odd = replace(EXHIBITS[0], name="data/export/stills/missing.jpg")
    text = " ".join(pages(replace(CONTENT, exhibits=(odd, *EXHIBITS[1:]))))
    assert "This picture can't be shown here." in text


def test_a_picture_that_fails_says_why() -> None:
    def failing(name: str) -> bytes | None:
        raise UsageError("the still can't be shown: cut short")

    pdf = build_pack_index(CONTENT, thumbnail=failing)
    text = plain(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages))
    assert "the still can't be shown: cut short" in text


def test_pictures_are_asked_for_by_their_names_in_the_pack_alone() -> None:
    asked = []

    def note(name: str) -> bytes | None:
        asked.append(name)
        return thumbnail(name)

    build_pack_index(CONTENT, thumbnail=note)
    shown = {"data/export/stills/C007_0031.jpg", "data/redacted/exhibit-2.png", LONG_NAME}
    assert set(asked) == shown


def test_pictures_in_it_hold_no_metadata() -> None:
    images = [image.data for page in reader_of().pages for image in page.images]
    assert len(images) >= 3
    assert not any(b"Exif" in data for data in images)


def test_a_pack_of_a_thousand_exhibits_keeps_every_number() -> None:
    many = [
        PackExhibit(
            number=number, entry=number + 100, kind="record", use="unused", became="released",
            description=f"Device test: test {number}", reason="It concerns the meter.",
        )
        for number in range(1, 1001)
    ]  # fmt: skip
    found = pages(replace(CONTENT, exhibits=many, redactions=(), findings=()))
    text = " ".join(found)
    assert len(found) > 15
    assert all(f"{number} Device test: test {number}" in text for number in range(1, 1001))


def test_text_that_cannot_be_printed_is_shown_by_number() -> None:
    odd = PackExhibit(
        number=1, entry=1, kind="record", use="relied on", became="released",
        description="Note: \u202eevil\x07", reason="It\u0000 concerns", details=(("a", "𝔛"),),
    )  # fmt: skip
    text = " ".join(pages(replace(CONTENT, exhibits=(odd,), redactions=(), findings=())))
    assert "Note: [U+202E]evil[U+0007]" in text
    assert "It[U+0000] concerns" in text
    assert "a: [U+1D51B]" in text


def test_long_class_lists_cross_pages_whole() -> None:
    places = ", ".join(str(2 * number) for number in range(3000))
    one = WithheldClass(kind="record", wording="w", reason="r", count=3000, entries=places)
    text = " ".join(pages(replace(CONTENT, withheld=(one,))))
    found = set(re.findall(r"\d+", text))
    assert {str(2 * number) for number in range(3000)} <= found


@pytest.mark.parametrize("outcome", list(Outcome))
def test_every_outcome_is_shown(outcome: Outcome) -> None:
    one = PackFinding(exhibit=6, finding=finding("5", outcome, "The sentence of it."))
    text = " ".join(pages(replace(CONTENT, findings=(one,))))
    assert f"capture 7 {outcome.value}" in text.replace("  ", " ")


def test_the_same_content_gives_the_same_bytes() -> None:
    one, other = (build_pack_index(CONTENT, thumbnail=thumbnail) for _ in range(2))
    assert one == other


def test_every_text_of_the_content_is_shown_somewhere() -> None:
    """A field that is not drawn would be promised to the reader and kept from him."""
    text = re.sub(r"\s", "", " ".join(pages()))
    unseen = []
    for one in fields(PackContent):
        value = getattr(CONTENT, one.name)
        shown = value.hex() if isinstance(value, bytes) else value
        if isinstance(shown, str) and re.sub(r"\s", "", shown) not in text:
            unseen.append(one.name)
        if (
            isinstance(value, datetime)
            and value.isoformat(sep=" ")[:19].replace(" ", "") not in text
        ):
            unseen.append(one.name)
    assert unseen == ["paper"]
