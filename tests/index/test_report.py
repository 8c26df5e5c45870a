"""The court's page, read back with pypdf."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

import pypdf
import pytest

from evidpack.index.report import (
    ReportAnchor,
    ReportAnswer,
    ReportContent,
    ReportStep,
    build_report,
)
from tests.index.invented import digest

QUESTIONS = ("Is the signature valid?", "Is the signer known?", "Is the time established?")


def usual(**changes: object) -> ReportContent:
    values: dict[str, object] = {
        "file_name": "bundle.zip",
        "sha256": digest("file").hex(),
        "size": "2 104 882 113 bytes",
        "reference": "TRU-2026-05-14-A",
        "verified_at": datetime(2026, 6, 1, 9, 30, tzinfo=UTC),
        "evidpack_version": "0.1.0",
        "verdict": "Verified",
        "verdict_sentence": "The file is what was sealed; signer and time are established.",
        "steps": [
            ReportStep(number=n, outcome="holds", detail=f"examined {100 + n}") for n in range(1, 9)
        ]
        + [ReportStep(number=9, outcome="not applicable")],
        "answers": [
            ReportAnswer(question=question, answer="yes", detail=f"reason {index}")
            for index, question in enumerate(QUESTIONS)
        ],
        "anchors": [
            ReportAnchor(
                name="Invented Authority", fingerprint=digest("a").hex(" ", 2), use="anchor"
            ),
            ReportAnchor(
                name="Invented Time Stamps",
                fingerprint=digest("t").hex(" ", 2),
                use="time-stamp anchor",
            ),
        ],
    }
    return ReportContent(**(values | changes))


def pages(content: ReportContent) -> list[str]:
    reader = pypdf.PdfReader(BytesIO(build_report(content)))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_usual_report_stands_on_one_page(paper: str) -> None:
    assert len(pages(usual(paper=paper))) == 1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_advice_on_every_step_still_leaves_one_page(paper: str) -> None:
    steps = [
        replace(step, outcome="not established", advice="ask the unit for its certificate")
        for step in usual().steps
    ]
    assert len(pages(usual(steps=steps, paper=paper))) == 1


def test_it_names_file_digest_time_version_and_anchors() -> None:
    (text,) = pages(usual())
    for expected in (
        "bundle.zip",
        digest("file").hex(),
        "2026-06-01 09:30:00 +00:00",
        "evidpack 0.1.0",
        "Anchor Invented Authority",
        "Time-stamp anchor Invented Time Stamps",
        digest("a").hex(" ", 2),
        digest("t").hex(" ", 2),
        "page 1 of 1",
    ):
        assert expected in text


def test_the_three_answers_are_kept_apart() -> None:
    answers = [
        ReportAnswer(question=question, answer=answer, detail=f"because {answer}")
        for question, answer in zip(QUESTIONS, ("yes", "not established", "no"), strict=True)
    ]
    (text,) = pages(usual(answers=answers))
    assert "Is the signature valid? yes because yes" in text
    assert "Is the signer known? not established because not established" in text
    assert "Is the time established? no because no" in text


def test_each_step_is_given_in_plain_words_with_its_outcome() -> None:
    (text,) = pages(usual())
    assert len(re.findall(r"\bholds examined 10[1-8]\b", text)) == 8
    assert "with a reason. not applicable" in text


def test_without_anchors_it_says_what_that_means() -> None:
    (text,) = pages(usual(anchors=()))
    assert "None was given, so neither signer nor time can be established." in text


def test_many_faults_go_on_to_further_pages_and_none_is_lost() -> None:
    faults = [f"data/export/{n:04d}.jpg: expected {digest(str(n)).hex()}" for n in range(300)]
    steps = [ReportStep(number=2, outcome="fails", faults=faults, advice="ask for the bundle")]
    found = pages(usual(steps=steps, verdict="Does not verify"))
    assert len(found) > 3
    text = re.sub(r"\s", "", "".join(found))
    missing = [fault for fault in faults if re.sub(r"\s", "", fault) not in text]
    assert missing == []
    assert "300 faults, listed after this table" in found[0]
    for number, page in enumerate(found, start=1):
        assert f"page {number} of {len(found)}" in page


def test_what_is_not_proved_and_the_cautions_are_given() -> None:
    text = " ".join(pages(usual()))
    assert "The order of capture: the chain fixes the order of sealing." in text
    assert "guilt or admissibility" in text
    assert "not legal advice" in text


def test_long_names_are_wrapped_and_markup_is_text() -> None:
    name = "<b>&amp;" + "long" * 60 + ".zip"
    text = re.sub(r"\s", "", "".join(pages(usual(file_name=name))))
    assert name in text


def test_the_same_content_gives_the_same_bytes_and_its_own_dates() -> None:
    first = build_report(usual())
    assert first == build_report(usual())
    metadata = pypdf.PdfReader(BytesIO(first)).metadata
    assert metadata.creation_date == usual().verified_at
    assert first != build_report(usual(verdict="Does not verify"))
