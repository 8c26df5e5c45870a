"""The page as people use it: with keys alone, on a narrow screen, on paper, in the dark."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import os
from pathlib import Path
from typing import Any

import pypdf
import pytest

from evidpack.container import layout
from tests.bundles import rebuilt, taken_apart
from tests.reader.cases.case import pem
from tests.reader.conftest import READER, Run
from tests.sealed_days import SealedDay
from tests.verifying.test_tampering import flipped

STILL = "data/export/stills/C1_0001.jpg"


@pytest.fixture(scope="module")
def seen(
    run: Run, sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    top, members = taken_apart(sealed_day.bundle)
    failing = tmp_path_factory.mktemp("screens") / "failing.zip"
    failing.write_bytes(rebuilt(top, flipped(members, STILL)))
    pictures = os.environ.get("READER_PICTURES")  # a folder, to look at every screen
    asked = {
        "whole": str(sealed_day.path),
        "failing": str(failing),
        "anchors": pem(sealed_day.trust.anchors),
        "tsaAnchors": pem(sealed_day.trust.tsa_anchors),
        "pictures": pictures,
    }
    answer: dict[str, Any] = run("screens.mjs", asked)
    return answer


def test_no_screen_breaks_a_rule_of_accessibility_in_light_or_dark(seen: dict[str, Any]) -> None:
    assert seen["accessibility"]["violations"] == []


def test_the_accessibility_checker_finds_what_is_planted(seen: dict[str, Any]) -> None:
    assert seen["accessibility"]["planted"] >= 2


def test_nothing_is_wider_than_320_pixels(seen: dict[str, Any]) -> None:
    assert set(seen["narrow"]["overflow"].values()) == {0}


def test_the_banner_of_a_file_that_does_not_verify_cannot_be_scrolled_away(
    seen: dict[str, Any],
) -> None:
    banner = seen["narrow"]["banner"]
    assert seen["narrow"]["scrolled"] > 500
    assert 0 <= banner["y"] < 40
    assert banner["y"] + banner["height"] < 640 / 2


def test_keys_alone_lead_from_opening_to_one_capture_and_back(seen: dict[str, Any]) -> None:
    keyboard = seen["keyboard"]
    assert any("Choose a file" in name for name in keyboard["seen"])
    assert any("Authority for signers" in name for name in keyboard["seen"])
    assert any("Authority for time stamps" in name for name in keyboard["seen"])
    assert keyboard["verdictHasFocus"]
    assert keyboard["second"] == "Captures"
    assert keyboard["dialog"] == "Capture 1"
    assert keyboard["closed"] == 0
    assert keyboard["backOnCard"]


def test_paper_is_white_without_controls_and_says_on_every_page_that_it_fails(
    seen: dict[str, Any],
) -> None:
    paper = seen["paper"]
    pages = pypdf.PdfReader(io.BytesIO(base64.b64decode(paper["pdf"]))).pages
    texts = [page.extract_text() for page in pages]
    assert len(texts) >= 2
    assert all("DOES NOT VERIFY" in text for text in texts)
    assert STILL in texts[0].replace("\n", "")
    assert "Choose a file" not in "".join(texts)
    assert "Not proved by this or any seal" in "".join(texts)
    assert not paper["openingVisible"]
    assert paper["background"] == "rgb(255, 255, 255)"


def test_certificates_that_are_none_are_refused_with_what_to_do(seen: dict[str, Any]) -> None:
    none, key, broken, twice = seen["use"]["refusals"]
    assert "there is no certificate in this" in none
    assert "something other than certificates" in key
    assert "never hand over a private key" in key
    assert "broken off" in broken
    assert "stands in the file twice" in twice
    assert seen["use"]["keptNone"] == 0


def test_the_verdict_follows_the_certificates_that_are_given(seen: dict[str, Any]) -> None:
    assert seen["use"]["verdicts"] == [
        "Intact, but signer or time not established",
        "Intact, but signer or time not established",
        "Verified, time only as claimed",
        "Verified",
    ]


def test_the_saved_reports_say_what_was_verified_and_with_what(
    seen: dict[str, Any], sealed_day: SealedDay
) -> None:
    report = json.loads(seen["use"]["json"])
    page = (READER / "built" / "reader.html").read_bytes()
    assert report["sha256"] == hashlib.sha256(sealed_day.bundle).hexdigest()
    assert report["size"] == len(sealed_day.bundle)
    assert report["verdict"] == "verified"
    assert report["exit_code"] == 0
    assert report["reader"] == {"version": "0.1.0", "sha256": hashlib.sha256(page).hexdigest()}
    assert [step["step"] for step in report["steps"]] == list(range(1, 10))
    assert {one["role"] for one in report["certificates"]} == {
        "signing certificate", "anchor", "time-stamp anchor",
    }  # fmt: skip
    html = seen["use"]["html"]
    for text in (report["sha256"], report["statement_sha256"], report["reader"]["sha256"]):
        assert text in html
    for one in report["certificates"]:
        assert one["fingerprint"] in html
    assert "<script" not in html
    assert "not run here" in html


def test_the_result_shows_steps_answers_fingerprints_and_cautions(seen: dict[str, Any]) -> None:
    text = seen["use"]["text"]
    report = json.loads(seen["use"]["json"])
    for wanted in ("Signature valid?", "Signer known?", "Time established?", "Cautions"):
        assert wanted in text
    for one in report["certificates"]:
        assert one["fingerprint"] in text
        assert one["key_fingerprint"] in text
    for one in report["not_proved"]:
        assert one in text


def test_captures_are_searched_and_filtered(seen: dict[str, Any]) -> None:
    everything, found, none, adverse = seen["use"]["counts"]
    assert everything == "2 captures"
    assert found == "1 of 2 captures"
    assert none == "0 of 2 captures"
    assert adverse.endswith("captures")
    assert seen["use"]["picture"] == 70
    for wanted in ("Capture 1", "41 mph", "182.4 m", "09:15:00 +01:00"):
        assert wanted in seen["use"]["card"]


def test_a_copy_that_is_saved_is_the_file_itself(
    seen: dict[str, Any], sealed_day: SealedDay
) -> None:
    _, members = taken_apart(sealed_day.bundle)
    assert base64.b64decode(seen["use"]["copy"]) == members[f"{layout.EXPORT}readings.csv"]


def test_no_use_of_the_page_asks_the_network_for_anything(seen: dict[str, Any]) -> None:
    assert seen["use"]["strangers"] == []
    assert seen["use"]["errors"] == []


def test_the_policy_allows_no_address() -> None:
    page = (READER / "built" / "reader.html").read_text(encoding="utf-8")
    policy = page.split('http-equiv="Content-Security-Policy" content="')[1].split('"')[0]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert set(rules) == {
        "default-src", "script-src", "style-src", "worker-src", "img-src", "media-src", "base-uri",
        "form-action",
    }  # fmt: skip
    sources = {source for rule in rules.values() for source in rule.split()}
    assert {s for s in sources if not s.startswith("'sha256-")} == {
        "'none'", "'wasm-unsafe-eval'", "blob:",
    }  # fmt: skip


def test_the_page_is_under_a_megabyte() -> None:
    assert Path(READER / "built" / "reader.html").stat().st_size < 1_000_000
