from __future__ import annotations

import fnmatch
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.file_patterns import Glob, NamePattern, PatternError


@pytest.mark.parametrize(
    ("glob", "path", "matches"),
    [
        ("stills/*.jpg", "stills/a.jpg", True),
        ("stills/*.jpg", "STILLS/A.JPG", True),
        ("stills/*.jpg", "stills/sub/a.jpg", False),
        ("stills/*.jpg", "a.jpg", False),
        ("stills/**/*.jpg", "stills/a.jpg", True),
        ("stills/**/*.jpg", "stills/x/y/a.jpg", True),
        ("**/*.jpg", "a.jpg", True),
        ("**", "a/b/c", True),
        ("a/**", "a", True),
        ("a/**", "a/b", True),
        ("a/**", "ab", False),
        ("a/**/b", "a/b", True),
        ("a*/b", "ab/b", True),
        ("a*a", "a", False),
        ("a*a", "aa", True),
        ("*", "a/b", False),
        ("?at.txt", "cat.txt", True),
        ("?at.txt", "at.txt", False),
        ("[ab].txt", "a.txt", False),
        ("[ab].txt", "[ab].txt", True),
        ("a*b*c", "aXbYbZc", True),
        ("a*b*c", "aXbYbZ", False),
    ],
)
def test_a_glob_matches_within_its_folders(glob: str, path: str, matches: bool) -> None:
    assert Glob(glob).matches(path) is matches


@pytest.mark.parametrize("glob", ["", "/abs/*.jpg", "a\\b", "x" * 600])
def test_a_glob_outside_the_export_is_refused(glob: str) -> None:
    with pytest.raises(PatternError):
        Glob(glob)


@given(st.text("ab*?", min_size=1, max_size=8), st.text("ab", min_size=1, max_size=8))
def test_one_part_matches_as_fnmatch_does(glob: str, name: str) -> None:
    if glob == "**":
        return
    assert Glob(glob).matches(name) is fnmatch.fnmatchcase(name, glob)


def test_a_hostile_glob_does_not_keep_the_reader_busy() -> None:
    start = time.process_time()
    assert not Glob("*a" * 200 + "b").matches("a" * 1000)
    assert not Glob("/".join(["**", "*"] * 100 + ["b"])).matches("/".join("a" * 200))
    assert time.process_time() - start < 2


def test_a_pattern_reads_its_groups_from_the_name() -> None:
    pattern = NamePattern(r"(?P<session>S\d)-(?P<capture>C\d+)_(?P<image_number>\d{4})\.jpg")
    assert pattern.read("x/S1-C7_0012.JPG") == {
        "session": "S1",
        "capture": "C7",
        "image_number": "0012",
    }
    assert pattern.read("S1-C7_0012.jpg.bak") is None


def test_a_pattern_with_a_slash_reads_the_path() -> None:
    pattern = NamePattern(r"(?P<session>[^/]+)/cam/(?P<image_number>\d+)\.jpg")
    assert pattern.read("S2/cam/7.jpg") == {"session": "S2", "image_number": "7"}


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        (r"(a+)+$", "simple repeats"),
        (r"(a|aa)+", "simple repeats"),
        (r"(?:a?){30}", "simple repeats"),
        (r"(?=a)b", "only characters"),
        (r"(a)\1", "only characters"),
        (r".*.*.*.*x", "more than 3 parts"),
        (r"(?P<plate>\w+)", "unknown groups: plate"),
        (r"(?P<capture>", "not a regular expression"),
        ("a" * 600, "at most 512"),
    ],
)
def test_a_pattern_that_may_cost_too_much_is_refused(pattern: str, why: str) -> None:
    with pytest.raises(PatternError, match=why):
        NamePattern(pattern)


def test_the_dearest_pattern_that_is_allowed_is_quick() -> None:
    pattern = NamePattern(r"a*a*a*b")
    start = time.process_time()
    assert pattern.read("a" * 160) is None
    assert time.process_time() - start < 1
    assert pattern.read("a" * 100_000 + "b") is None
