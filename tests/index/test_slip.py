"""The slip of an encrypted pack, as PDF (read back with pypdf) and as text."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

import pypdf
import pytest

from evidpack.index.slip import SlipContent, build_slip, slip_text
from tests.index.invented import digest

PASSPHRASE = "JYSW-T8AL-WVCA-GBB4-7HTT-3LA7-TBFF"
SLIP = SlipContent(
    file_name="pack.zip",
    sha256=digest("encrypted"),
    size=123_456_789,
    reference="pack-1-0a1b2c3d4e5f",
    pack_sha256=digest("pack"),
    case="TM/2026/0417",
    recipient="Quillfeather & Moss, for the defence",
    issue=1,
    made_at=datetime(2026, 6, 1, 9, 30, tzinfo=UTC),
    made_by="H. Undersedge",
    passphrase=PASSPHRASE,
    evidpack_version="0.1.0",
)
LONG = replace(
    SLIP,
    file_name="pack-" + "x" * 240 + ".zip",
    case="A case with a very long name " * 10,
    recipient="A recipient with a very long name " * 10,
    made_by="Somebody with a very long name " * 8,
)


def pdf_pages(content: SlipContent) -> list[str]:
    reader = pypdf.PdfReader(BytesIO(build_slip(content)))
    return [page.extract_text() for page in reader.pages]


def plain(text: str) -> str:
    return " ".join(text.split())


def both(content: SlipContent) -> list[str]:
    return [plain(" ".join(pdf_pages(content))), plain(slip_text(content).decode())]


@pytest.mark.parametrize("form", [0, 1])
def test_it_names_pack_case_recipient_and_digests(form: int) -> None:
    text = both(SLIP)[form]
    for expected in (
        "pack.zip", "123 456 789 bytes", "pack-1-0a1b2c3d4e5f, issue 1", "TM/2026/0417",
        "Quillfeather & Moss, for the defence", "H. Undersedge", "2026-06-01 09:30:00 +00:00",
        digest("encrypted").hex(" ", 2), digest("pack").hex(" ", 2),
    ):  # fmt: skip
        assert expected in text


@pytest.mark.parametrize("form", [0, 1])
def test_the_passphrase_can_be_read_whole_and_in_order(form: int) -> None:
    assert PASSPHRASE in re.sub(r"\s", "", both(SLIP)[form])
    lines = [line.strip() for line in slip_text(SLIP).decode().splitlines()]
    assert lines[lines.index("Passphrase:") + 2 :][:2] == ["JYSW-T8AL-WVCA-GBB4-", "7HTT-3LA7-TBFF"]


@pytest.mark.parametrize("form", [0, 1])
@pytest.mark.parametrize(
    "said",
    [
        "another way than the pack",
        "built into common operating systems often cannot open one",
        "the pack has to be issued anew",
        "compare the SHA-256 of the file with the one printed here",
        "decrypted-pack.zip",
        "no letter I or O and no digit 0 or 1",
    ],
)
def test_it_says_what_to_do(form: int, said: str) -> None:
    assert said in both(SLIP)[form]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_stands_on_one_page_with_head_and_number(paper: str) -> None:
    (page,) = pdf_pages(replace(SLIP, paper=paper))  # type: ignore[arg-type]
    assert "page 1 of 1" in page
    assert f"SHA-256 of the encrypted file {digest('encrypted').hex()}" in plain(page)


def test_long_names_are_wrapped_and_whole() -> None:
    for text in both(LONG):
        assert "x" * 240 in text.replace(" ", "")
        assert text.count("with a very long name") >= 28
    assert all(len(line) <= 76 for line in slip_text(LONG).decode().splitlines())


def test_the_passphrase_stands_in_no_metadata_or_outline() -> None:
    reader = pypdf.PdfReader(BytesIO(build_slip(SLIP)))
    said = " ".join(str(value) for value in (reader.metadata or {}).values())
    said += " ".join(str(one) for one in reader.outline)
    assert "JYSW" not in said
    assert "Passphrase slip pack-1-0a1b2c3d4e5f" in said


def test_what_cannot_be_printed_is_shown_by_number() -> None:
    odd = replace(SLIP, recipient="A\u202eB", file_name="p\x1b[2Jack.zip")
    pdf, text = both(odd)
    assert "A[U+202E]B" in pdf
    assert "A[U+202E]B" in text
    assert "\x1b" not in text


def test_the_same_content_gives_the_same_bytes() -> None:
    assert build_slip(SLIP) == build_slip(SLIP)
    assert slip_text(SLIP) == slip_text(SLIP)
