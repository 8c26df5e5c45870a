"""The page in Firefox, from disk: a bundle verifies and its pictures are shown."""

from __future__ import annotations

from typing import Any

import pytest

from tests.reader.cases.case import pem
from tests.reader.conftest import Run
from tests.sealed_days import SealedDay
from tests.tools import require_program


@pytest.fixture(scope="module")
def told(run: Run, sealed_day: SealedDay) -> dict[str, Any]:
    answer: dict[str, Any] = run(
        "firefox.mjs",
        {
            "file": str(sealed_day.path),
            "anchors": pem(sealed_day.trust.anchors),
            "tsaAnchors": pem(sealed_day.trust.tsa_anchors),
            "firefox": require_program("firefox-esr"),
        },
        timeout_s=180,
    )
    return answer


def test_a_bundle_verifies_in_firefox(told: dict[str, Any]) -> None:
    assert told["verdict"] == "Verified"
    assert told["outcomes"] == [*["Holds"] * 7, "Not established", "Not applicable"]


def test_pictures_are_shown_in_firefox(told: dict[str, Any]) -> None:
    assert told["picture"] == 70


def test_firefox_asks_the_network_for_nothing(told: dict[str, Any]) -> None:
    assert told["strangers"] == []
