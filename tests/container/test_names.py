from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container import names
from evidpack.container.name_table import NameTable
from evidpack.container.names import require_name, require_top, safe_name, twin_key
from evidpack.errors import ContainerError

NAMES = st.lists(
    st.text(min_size=0, max_size=12).filter(lambda part: "/" not in part), min_size=1, max_size=5
).map("/".join)


def allowed(name: str) -> bool:
    try:
        require_name(name)
    except ContainerError:
        return False
    return True


@pytest.mark.parametrize(
    "name",
    [
        "a",
        "a.b.c",
        "data/export/stills/C0001_0042.jpg",
        "with space/and-hyphen_",
        "Straße/Öl.txt",
        "日本/語.txt",
        "~a",
        "-a",
        "(1) [2] {3} #4 & 5 = 6 + 7, 8; 9' `0` ^ $ ! @",
        ".hidden",
        "console",
        "com",
        "com10",
        "x" * 255,
    ],
)
def test_allows(name: str):
    require_name(name)


@pytest.mark.parametrize("name", ["", "/", "a/", "/a", "a//b", ".", "..", "a/..", "./a"])
def test_refuses_names_that_point_elsewhere(name: str):
    with pytest.raises(ContainerError, match="is not allowed"):
        require_name(name)


# Microsoft, "Naming Files, Paths, and Namespaces": reserved characters and names.
@pytest.mark.parametrize("character", [*'<>:"\\|?*', *map(chr, range(32)), "\x7f", "%"])
def test_refuses_a_character(character: str):
    with pytest.raises(ContainerError, match=f"U\\+{ord(character):04X}"):
        require_name(f"a{character}b")


@pytest.mark.parametrize(
    "device",
    ["CON", "con", "PRN", "AUX", "NUL", "COM0", "com9", "LPT1", "COM¹", "lpt³", "CONIN$", "CLOCK$"],
)
@pytest.mark.parametrize("ending", ["", ".txt", ".tar.gz", " .txt", "."])
def test_refuses_a_device(device: str, ending: str):
    with pytest.raises(ContainerError, match=r"device name|ends in a space or a dot"):
        require_name(f"folder/{device}{ending}")


@pytest.mark.parametrize("top", ["TRU-2026-05-14-A", "a", "1", "a.b", "A-", "x" * 64])
def test_allows_a_reference(top: str):
    require_top(top)


@pytest.mark.parametrize(
    "top", ["", ".", "..", "-a", ".a", "a.", "a/b", "a_b", "a b", "ä", "nul", "COM1.x", "x" * 65]
)
def test_refuses_a_reference(top: str):
    with pytest.raises(ContainerError, match="reference"):
        require_top(top)


@given(NAMES)
def test_an_allowed_name_is_plain_in_every_form(name: str):
    # The law behind the rules: line breaking, stripping and normalising leave it as it is.
    if allowed(name):
        assert unicodedata.normalize("NFC", name) == name
        assert len(name.splitlines()) == 1
        assert all(part == part.strip() for part in name.split("/"))
        assert name.isprintable()
        assert name.encode("utf-8").decode("utf-8") == name


def test_no_forbidden_character_is_let_through_by_the_quick_path():
    # The slow reference: every character of the basic plane, judged by its Unicode category.
    for point in range(0x10000):
        character = chr(point)
        if character != "/" and allowed(f"a{character}b"):
            category = unicodedata.category(character)
            assert category[0] in "LMNPS" or character == " ", hex(point)


# Twins


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("ABC", "abc"),
        ("é", "e\u0301"),
        ("É", "e\u0301"),
        ("ß", "SS"),
        ("ﬁ", "fi"),
        ("ı", "i"),
        ("\u212a", "k"),
        ("ς", "σ"),
        ("\u1e9e", "ß"),
    ],
)
def test_twins_have_one_key(one: str, two: str):
    assert twin_key(one) == twin_key(two)


@pytest.mark.parametrize(("one", "two"), [("a", "b"), ("é", "e"), ("o", "0"), ("a b", "a_b")])
def test_others_have_not(one: str, two: str):
    assert twin_key(one) != twin_key(two)


@given(st.text(alphabet=st.characters(max_codepoint=0x33FF)))
def test_case_and_normalisation_never_change_the_key(text: str):
    assigned = [
        character for character in text if unicodedata.ucd_3_2_0.category(character) != "Cn"
    ]
    name = "".join(assigned)
    key = twin_key(name)
    assert twin_key(unicodedata.normalize("NFD", name)) == key
    assert twin_key(unicodedata.normalize("NFC", name)) == key
    assert twin_key(name.upper()) == key
    assert twin_key(name.casefold()) == key
    assert twin_key(key) == key


# Safe names


def test_an_allowed_name_stays_as_it_is():
    assert safe_name("stills/C0001 (2).jpg", set()) == "stills/C0001 (2).jpg"


@pytest.mark.parametrize(
    ("original", "safe"),
    [
        ("a:b.jpg", "a_b.jpg"),
        ("a%41.jpg", "a_41.jpg"),
        ("dir\\file", "dir_file"),
        ("e\u0301.txt", "é.txt"),
        ("trailing. ", "trailing__"),
        (" leading", "_leading"),
        ("NUL.txt", "_NUL.txt"),
        ("../../etc", "__/__/etc"),
        ("./a", "_/a"),
        ("", "_"),
        ("a//b", "a/_/b"),
        ("a\nb", "a_b"),
        ("smile\U0001f600.jpg", "smile_.jpg"),
        (b"caf\xe9.txt", "caf_.txt"),
        (b"caf\xc3\xa9.txt", "café.txt"),
        ("caf\udce9.txt", "caf_.txt"),
    ],
)
def test_makes_a_name_safe(original: str | bytes, safe: str):
    assert safe_name(original, set()) == safe


def test_numbers_twins_in_the_order_of_the_calls():
    taken: set[str] = set()
    given_names = ["IMG.JPG", "img.jpg", "Img.Jpg", "img_2.jpg", "a?.x", "a*.x", "b", "b"]
    assert [safe_name(name, taken) for name in given_names] == [
        "IMG.JPG",
        "img_2.jpg",
        "Img_3.Jpg",
        "img_2_2.jpg",
        "a_.x",
        "a__2.x",
        "b",
        "b_2",
    ]


def test_numbers_folders_that_are_twins_and_files_named_as_folders():
    taken: set[str] = set()
    assert safe_name("DCIM/a.jpg", taken) == "DCIM/a.jpg"
    assert safe_name("dcim/a.jpg", taken) == "dcim_2/a.jpg"
    assert safe_name("dcim/b.jpg", taken) == "dcim_2/b.jpg"
    assert safe_name("DCIM/b.jpg", taken) == "DCIM/b.jpg"
    assert safe_name("dcim", taken) == "dcim_3"
    assert safe_name("x", taken) == "x"
    assert safe_name("x/y", taken) == "x_2/y"


def test_many_twins_take_little_time_each():
    # 20,000 names of control characters only: each new one is found by halving, not by counting.
    taken: set[str] = set()
    names = [safe_name(chr(1 + number % 31), taken) for number in range(20_000)]
    assert names[0] == "_"
    assert names[-1] == "__20000"
    assert len(set(names)) == 20_000


def test_shortens_a_long_part_and_keeps_its_ending():
    name = safe_name("é" * 200 + ".jpg", set())
    assert name == "é" * 125 + ".jpg"
    taken = {twin_key(name)}
    assert safe_name("é" * 200 + ".jpg", taken).endswith("_2.jpg")


def test_shortens_a_long_ending_too():
    assert len(safe_name("x." + "y" * 400, set())) == 255


def test_flattens_what_lies_too_deep():
    name = safe_name("/".join("d" * 60), set())
    assert name.count("/") == limits.MAX_PATH_DEPTH - limits.NAME_PARTS_KEPT - 1
    assert name.endswith("d_d_d")


def test_shortens_all_parts_of_a_long_path():
    name = safe_name("/".join(f"{number:03}" + "n" * 150 for number in range(25)), set())
    require_name(f"data/export/{name}")
    assert name.startswith("000n")
    assert len(name) <= limits.MAX_NAME_BYTES - limits.NAME_BYTES_KEPT


@given(
    st.lists(st.one_of(NAMES, st.binary(max_size=40), st.text(alphabet="aA./ \u0301:", max_size=9)))
)
def test_safe_names_are_allowed_and_no_two_are_twins(originals: list[str | bytes]):
    taken: set[str] = set()
    table = NameTable()
    for original in originals:
        table.add(f"data/export/{safe_name(original, taken)}")


@given(st.lists(st.text(alphabet="nN", min_size=200, max_size=260), min_size=2, max_size=6))
def test_long_twins_stay_within_the_limits(originals: list[str]):
    taken: set[str] = set()
    table = NameTable()
    for original in originals:
        table.add(safe_name(original, taken))
        table.add(safe_name("/".join([original] * 6), taken))


@given(NAMES)
def test_allowed_names_are_kept_and_only_these(name: str):
    assert (safe_name(name, set()) == name) == allowed(name)


PATHS = st.lists(
    st.text(alphabet="aA1._- ", min_size=1, max_size=4)
    | st.sampled_from(["con", "Aux.txt", "com1", "console", "lpt9.a.b", "..", ".", "x."]),
    min_size=1,
    max_size=4,
).map("/".join)


@given(st.lists(PATHS, max_size=12))
def test_the_quick_look_at_plain_paths_changes_no_name(originals: list[str]):
    quick: set[str] = set()
    slow: set[str] = set()
    with pytest.MonkeyPatch.context() as patch:
        given_names = [safe_name(original, quick) for original in originals]
        patch.setattr(names, "_is_plain_path", lambda _text: False)
        assert given_names == [safe_name(original, slow) for original in originals]
    assert quick == slow
