"""docs/disclosure.md lists the very reasons and decisions that there are."""

from __future__ import annotations

from pathlib import Path

from evidpack.disclosure.decisions import WHAT
from evidpack.disclosure.reasons import REASONS, reason_sentence
from evidpack.proof.accounting import NEUTRAL_REASON, NEUTRAL_WORDING

DOCS = Path(__file__).parents[2] / "docs"


def test_the_documented_reasons_are_the_ones_there_are() -> None:
    text = (DOCS / "disclosure.md").read_text(encoding="utf-8")
    for code, sentence in REASONS.items():
        assert f"| {code} | {sentence} |" in text
    for what in WHAT:
        assert f"| `{what}` |" in text
    assert NEUTRAL_REASON in text


def test_the_neutral_form_stands_in_the_format() -> None:
    text = " ".join((DOCS / "format.md").read_text(encoding="utf-8").split())
    assert NEUTRAL_REASON in text
    assert NEUTRAL_WORDING in text


def test_a_code_gives_its_sentence_and_own_words_stay() -> None:
    assert reason_sentence("mixed") == REASONS["mixed"]
    assert reason_sentence("because the court said so") == "because the court said so"
