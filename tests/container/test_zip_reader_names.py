from __future__ import annotations

import pytest

from evidpack import limits
from tests.container.archives import TOP, Part, forged, opened, parts, refused

# Names


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("/etc/passwd", "outside the top folder"),
        (f"{TOP}//a", "has an empty part"),
        (f"{TOP}/", "it is empty"),
        (f"{TOP}/folder/", "ends in a slash"),
        (f"{TOP}/../a", "parent folder"),
        (f"{TOP}/./a", "parent folder"),
        (f"{TOP}/x/../../a", "parent folder"),
        (f"{TOP}/C:/a", "U+003A"),
        (f"{TOP}/a:stream", "U+003A"),
        (f"{TOP}/a\\b", "U+005C"),
        (f"{TOP}/a\0.exe", "U+0000"),
        (f"{TOP}/a\n", "U+000A"),
        (f"{TOP}/a\x7f", "U+007F"),
        (f"{TOP}/a%0A", "U+0025"),
        (f"{TOP}/a\u202egpj.exe", "U+202E"),
        (f"{TOP}/a\u200d", "U+200D"),
        (f"{TOP}/a\u2028b", "U+2028"),
        (f"{TOP}/a\u00a0b", "U+00A0"),
        (f"{TOP}/a\ufe0f", "U+FE0F"),
        (f"{TOP}/a.", "ends in a space or a dot"),
        (f"{TOP}/a /b", "ends in a space or a dot"),
        (f"{TOP}/ a", "starts with a space"),
        (f"{TOP}/nul", "device name"),
        (f"{TOP}/COM1.txt", "device name"),
        (f"{TOP}/aux /x", "space or a dot"),
        (f"{TOP}/e\u0301", "not in form NFC"),
        (f"{TOP}/\U0001f697", "U+1F697"),
    ],
)
def test_refuses_a_name_that_some_program_would_change(name: str, message: str):
    error = refused(forged([*parts("first"), Part(name=name, data=b"x")]))
    assert message in str(error)


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("a.txt", "a.txt"),
        ("a.txt", "A.TXT"),
        ("straße", "STRASSE"),
        ("Å", "å"),
        ("\u212b"[:0] + "Å", "å"),
        ("ſ", "s"),
        ("ı", "I"),
        ("a", "a/b"),
        ("a/b", "a"),
        ("A/b", "a"),
        ("a/b", "A/c"),
        ("Σ", "ς"),
    ],
)
def test_refuses_twins(one: str, two: str):
    error = refused(forged([Part(name=f"{TOP}/{one}"), Part(name=f"{TOP}/{two}")]))
    assert "two names could be taken for one another" in str(error)


def test_refuses_a_second_top_folder():
    error = refused(forged([*parts("a"), *parts("b", top="TRU-2")]))
    assert "outside the top folder" in str(error)
    assert error.expected == f"a name that begins with '{TOP}/'"


def test_refuses_another_spelling_of_the_top_folder():
    assert "outside the top folder" in str(
        refused(forged([*parts("a"), *parts("b", top=TOP.lower())]))
    )


def test_refuses_members_without_a_top_folder():
    assert "outside a top folder" in str(refused(forged([Part(name="a.txt")])))


@pytest.mark.parametrize("top", ["", "..", ".hidden", "a.", "CON", "ä", "a b", "a" * 65])
def test_refuses_a_top_folder_that_is_no_reference(top: str):
    assert "reference" in str(refused(forged([Part(name=f"{top}/a")])))


def test_refuses_names_that_are_not_utf8():
    error = refused(forged([*parts("first"), Part(name=TOP.encode() + b"/a\xff")]))
    assert "is not UTF-8" in str(error)
    assert error.observed == "byte 0xff"


@pytest.mark.parametrize(
    "bad", [b"\xc0\xaf", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\xe0\x80\x80"]
)
def test_refuses_overlong_forms_and_surrogates(bad: bytes):
    assert "is not UTF-8" in str(
        refused(forged([*parts("a"), Part(name=TOP.encode() + b"/" + bad)]))
    )


def test_refuses_an_empty_raw_name():
    error = refused(forged([Part(name=b""), *parts("a" * 60)]))
    assert "length of the name is out of bounds" in str(error)


# Limits, at the limit and one past it


def long_name(size: int) -> str:
    """A name of that many bytes, in parts that are allowed."""
    return "/".join(["n" * 200] * 4 + ["n" * (size - 804)])


def test_name_at_the_limit_and_one_past_it():
    good, bad = long_name(limits.MAX_NAME_BYTES), long_name(limits.MAX_NAME_BYTES + 1)
    assert opened(forged(parts(good))).members[0].name == good
    assert "it has 1025 bytes" in str(refused(forged(parts(bad))))


def test_name_far_past_the_limit_is_refused_before_it_is_read():
    error = refused(forged(parts(long_name(1_000) + "/" + long_name(1_000))))
    assert "cannot hold that number of members" in str(error)
    error = refused(forged([*parts(*"abcdefghijklmnopqrst"), *parts("x" * 5_000)]))
    assert "length of the name is out of bounds" in str(error)


def test_longest_reference_and_longest_name_together():
    top = "T" * limits.MAX_REFERENCE_CHARACTERS
    name = long_name(limits.MAX_NAME_BYTES)
    assert opened(forged(parts(name, top=top))).top == top


def test_depth_at_the_limit_and_one_past_it():
    depth = limits.MAX_PATH_DEPTH
    opened(forged(parts("/".join("d" * depth))))
    assert "it has 33 parts" in str(refused(forged(parts("/".join("d" * (depth + 1))))))


def test_part_of_a_name_at_the_limit_and_one_past_it():
    opened(forged(parts("é" * 127 + "x")))
    assert "a part has 256 bytes" in str(refused(forged(parts("é" * 128))))


def test_a_directory_larger_than_one_piece_is_read_in_pieces():
    # 2,000 headers of some 1,100 bytes: more than the 1 MiB that is read at once.
    names = [f"{number:04}{long_name(1_000)}" for number in range(2_000)]
    archive = opened(forged(parts(*names)))
    assert [member.name for member in archive.members] == names
