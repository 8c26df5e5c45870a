"""The page in Firefox, from disk: a bundle verifies and its pictures are shown."""

from __future__ import annotations

import json
import os
import subprocess
from typing import Any

import pytest

from tests.reader.cases.case import pem
from tests.reader.conftest import BROWSER
from tests.sealed_days import SealedDay
from tests.tools import require_program


@pytest.fixture(scope="module")
def told(node: str, sealed_day: SealedDay) -> dict[str, Any]:
    firefox = require_program("firefox-esr")
    asked = {
        "file": str(sealed_day.path),
        "anchors": pem(sealed_day.trust.anchors),
        "tsaAnchors": pem(sealed_day.trust.tsa_anchors),
    }
    done = subprocess.run(
        [node, "--experimental-websocket", "--no-warnings", str(BROWSER / "firefox.mjs")],
        input=json.dumps(asked).encode(),
        capture_output=True,
        timeout=180,
        env=os.environ | {"FIREFOX": firefox},
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()[-3000:]
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def test_a_bundle_verifies_in_firefox(told: dict[str, Any]) -> None:
    assert told["verdict"] == "Verified"
    assert told["outcomes"] == [*["Holds"] * 7, "Not established", "Not applicable"]


def test_pictures_are_shown_in_firefox(told: dict[str, Any]) -> None:
    assert told["picture"] == 70


def test_firefox_asks_the_network_for_nothing(told: dict[str, Any]) -> None:
    assert told["strangers"] == []
