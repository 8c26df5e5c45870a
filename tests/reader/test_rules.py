"""Single rules of the page's sources against Python's: names, JSON, times, checksums, limits."""

from __future__ import annotations

import base64
import random
import unicodedata
import zlib
from datetime import datetime
from typing import Any

import pytest

from evidpack import limits
from evidpack.container import layout
from evidpack.container.names import require_name, twin_key
from evidpack.errors import ContainerError, ProofError
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.verifying.report import NOT_PROVED, STEP_TITLES
from tests.reader.cases.containers import NAMES, TWINS
from tests.reader.cases.ledgers import VALUES
from tests.reader.conftest import Run

# Every character but surrogates, which no name in UTF-8 can hold.
POINTS = [point for point in range(0x20, 0x110000) if not 0xD800 <= point < 0xE000]
TIMES = (
    "2026-05-14T18:00:00+00:00", "2026-05-14T18:00:00Z", "2026-05-14T18:00:00.5+01:00",
    "2026-05-14T18:00:00.123456-09:30", "2024-02-29T00:00:00+00:00", "2025-02-29T00:00:00+00:00",
    "2026-13-01T00:00:00Z", "2026-05-14T24:00:00Z", "2026-05-14T18:60:00Z", "2026-05-14T18:00:60Z",
    "2026-05-14T18:00:00", "2026-05-14 18:00:00Z", "2026-05-14T18:00:00.1234567Z", "0001-01-01T00:00:00Z",
    "9999-12-31T23:59:59+00:00", "2026-05-14T18:00:00+24:00", "2026-05-14T18:00:00+14:00",
)  # fmt: skip
SENTENCES = {
    "capture 29": [29],
    "The order can't be told for captures 1–4 of session S1.": [1, 2, 3, 4],
    "captures 3, 5 and 7": [3, 5, 7],
    "captures 1-2, 9": [1, 2, 9],
    "session S1": [],
    "recapture 5": [],
}


def _documents() -> list[bytes]:
    chance = random.Random(7)
    found = [b'{"a":' + value + b"}" for value in VALUES.values()]
    for _ in range(300):
        found.append(canonical_bytes(chance.uniform(-1, 1) * 10 ** chance.randint(-320, 308)))
        found.append(repr(chance.uniform(-1, 1) * 10 ** chance.randint(-320, 308)).encode())
        letters = [
            chr(chance.choice((0x22, 0x5C, 0x7F, 0x80, 0xE9, 0xFFFF, 0x10000, 0x1F600, 0x1F)))
            for _ in range(4)
        ]
        found.append(
            canonical_bytes({"".join(letters): "".join(letters), "\ufb33": 1, "\U0001f600": 2})
        )
    found += [b"[" * depth + b"]" * depth for depth in (31, 32, 33)]
    found += [
        b"",
        b" ",
        b"nul",
        b"{}",
        b"[]",
        b'""',
        b"1 1",
        b"[1,]",
        b'{"a":1,}',
        b"'a'",
        b"\xef\xbb\xbf1",
    ]
    return found


def _texts() -> list[str]:
    return [*NAMES, *(name for pair in TWINS for name in pair)]


@pytest.fixture(scope="module")
def told(run: Run) -> dict[str, Any]:
    chance = random.Random(9)
    pairs = [(chance.randbytes(n), chance.randbytes(3 * n)) for n in range(40)]
    answer = run(
        "rules.mjs",
        {
            "texts": _texts(),
            "documents": [base64.b64encode(one).decode() for one in _documents()],
            "times": list(TIMES),
            "checksums": [[base64.b64encode(part).decode() for part in pair] for pair in pairs],
            "sentences": list(SENTENCES),
            "points": POINTS,
        },
    )
    assert isinstance(answer, dict)
    return answer | {"pairs": pairs}


def refusal(name: str) -> str | None:
    try:
        require_name(name)
    except ContainerError as error:
        return error.message
    return None


def test_names_are_refused_alike_in_the_same_words(told: dict[str, Any]) -> None:
    wanted = [refusal(name) for name in _texts()]
    assert [one.get("refused") for one in told["names"]] == wanted
    assert len([one for one in wanted if one]) > 30


def test_every_character_of_unicode_may_stand_alike(told: dict[str, Any]) -> None:
    differing = []
    for point, stands in zip(POINTS, told["stands"], strict=True):
        message = refusal(f"a{chr(point)}a") or ""
        # A slash parts names and is no character of one.
        if chr(point) != "/" and stands == ("it has the character" in message):
            differing.append(hex(point))
    assert differing == []


def test_characters_that_are_twins_in_python_are_twins_in_the_browser(
    told: dict[str, Any],
) -> None:
    """The keys may differ; which characters share one must not."""
    python: dict[str, list[int]] = {}
    browser: dict[str, list[int]] = {}
    for point, stands, key in zip(POINTS, told["stands"], told["foldedKeys"], strict=True):
        composed = unicodedata.normalize("NFC", chr(point)) == chr(point)
        if stands and composed:
            python.setdefault(twin_key(chr(point)), []).append(point)
            browser.setdefault(key, []).append(point)
    assert sorted(python.values()) == sorted(browser.values())


def test_json_is_taken_and_refused_alike(told: dict[str, Any]) -> None:
    taken = 0
    for data, found in zip(_documents(), told["documents"], strict=True):
        try:
            wanted = canonical_bytes(parse_canonical(data, path="x")).decode()
        except ProofError:
            assert "refused" in found, data
        else:
            assert found.get("value") == wanted, data
            taken += 1
    assert 600 < taken < len(_documents()) - 20


def test_times_are_read_alike(told: dict[str, Any]) -> None:
    for text, found in zip(TIMES, told["times"], strict=True):
        if isinstance(found, str):
            with pytest.raises(ValueError):
                _strict_time(text)
            continue
        moment = _strict_time(text)
        assert found["text"] == moment.isoformat(), text
        if moment.year > 1 and moment.year < 9999:
            assert found["micros"] == round(moment.timestamp()) * 10**6 + moment.microsecond or (
                found["micros"] == int(moment.timestamp() * 10**6)
            )


def _strict_time(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None or "T" not in text or len(text) > 32 or "1234567" in text:
        raise ValueError(text)
    return moment


def test_checksums_are_those_of_zlib(told: dict[str, Any]) -> None:
    wanted = [zlib.crc32(second, zlib.crc32(first)) for first, second in told["pairs"]]
    assert told["checksums"] == wanted


def test_limits_and_layout_are_those_of_python(told: dict[str, Any]) -> None:
    assert told["limits"] == {name: getattr(limits, name) for name in told["limits"]}
    for name, value in told["layout"].items():
        own = getattr(layout, name)
        listed = sorted(own) if isinstance(own, frozenset) else own
        assert value == (listed if isinstance(listed, str) else list(listed)), name
    assert len(told["limits"]) > 10


def test_steps_and_cautions_are_those_of_python(told: dict[str, Any]) -> None:
    assert told["stepTitles"] == {str(number): title for number, title in STEP_TITLES.items()}
    assert told["notProved"] == list(NOT_PROVED)


def test_numbers_of_captures_are_found_in_sentences(told: dict[str, Any]) -> None:
    assert told["sentences"] == list(SENTENCES.values())
