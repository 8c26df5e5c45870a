from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import DescriptionError
from evidpack.intake.toml_lines import guesses, read_toml
from evidpack.intake.toml_text import guess, quoted

TEXT = '''# a comment with [brackets] and = signs
top = "x" # comment
"quoted.key" = 1
[day]
unit = """
[[session]]
id = "not a table"
"""
list = [
  1, # one
  { a = 2, "b" = [3] },
]
[[log]]
glob = 'a[b]=c'
[log.fields]
speed = { column = "Speed", unit = "mph" }
when = 2026-05-14 09:00:00
[[log]]
deep.er = 'x'
[log.fields]
speed = "Tempo"
'''


def test_keys_and_tables_are_found_on_their_lines() -> None:
    toml = read_toml(TEXT.encode(), path="day.toml")
    expected = {
        ("top",): 2,
        ("quoted.key",): 3,
        ("day",): 4,
        ("day", "unit"): 5,
        ("day", "list", 1, "a"): 11,
        ("log", 0): 13,
        ("log", 0, "fields", "speed", "unit"): 16,
        ("log", 0, "fields", "when"): 17,
        ("log", 1, "deep", "er"): 19,
        ("log", 1, "fields", "speed"): 21,
    }
    assert {key: toml.line(*key) for key in expected} == expected


def test_a_key_that_is_not_there_has_the_line_of_its_table() -> None:
    toml = read_toml(TEXT.encode(), path="day.toml")
    assert toml.line("log", 1, "record") == 18
    assert toml.line("nothing") is None


def test_text_that_is_no_toml_names_its_line() -> None:
    with pytest.raises(DescriptionError) as caught:
        read_toml(b"a = 1\nb = \n", path="day.toml")
    assert (caught.value.path, caught.value.line) == ("day.toml", 2)


def test_a_byte_order_mark_and_windows_line_ends_are_taken() -> None:
    toml = read_toml(b"\xef\xbb\xbfa = 1\r\n[day]\r\nb = 2\r\n", path="day.toml")
    assert toml.line("day", "b") == 3


@pytest.mark.parametrize(
    ("data", "line"),
    [(b"a = 1\nb = '\xe9'\n", 2), (b"\xff\xfea\0", 1)],
)
def test_text_that_is_not_utf8_names_its_line(data: bytes, line: int) -> None:
    with pytest.raises(DescriptionError, match="not UTF-8") as caught:
        read_toml(data, path="day.toml")
    assert caught.value.line == line


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 5000, "a = " + "[" * 60 + "]" * 60, "a = " + "9" * 5000, "a = " + "{b=" * 3000],
)
def test_text_without_end_is_refused_without_a_traceback(text: str) -> None:
    with pytest.raises(DescriptionError):
        read_toml(text.encode(), path="day.toml")


def test_a_file_over_the_limit_is_refused() -> None:
    with pytest.raises(DescriptionError, match="too large"):
        read_toml(b"#" * (4 * 1024 * 1024 + 1), path="day.toml")


def test_guesses_are_found_wherever_they_stand() -> None:
    text = 'a = "confirm: x"\n[b]\nc = ["y", "confirm: z"]\nd = "I confirm: no"\n"confirm: k" = 1\n'
    found = guesses(read_toml(text.encode(), path="day.toml"))
    assert [(one.line, one.text) for one in found] == [
        (1, "confirm: x"),
        (3, "confirm: z"),
        (5, "confirm: k"),
    ]


@given(st.text())
def test_what_is_quoted_reads_back_as_it_was(text: str) -> None:
    clean = text.encode("utf-8", "replace").decode()
    assert tomllib.loads(f"a = {quoted(text)}")["a"] == clean
    assert tomllib.loads(f"a = {guess(text)}")["a"].startswith("confirm:")


_keys = st.text("abc", min_size=1, max_size=3)
_values = st.recursive(
    st.one_of(st.integers(-(2**63), 2**63 - 1), st.booleans(), st.text(max_size=8)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(_keys, inner, max_size=3)),
    max_leaves=8,
)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ",\n".join(map(_toml, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + "}"
    return quoted(value) if isinstance(value, str) else str(value)


@given(st.lists(st.dictionaries(_keys, _values, max_size=4), min_size=1, max_size=4))
def test_every_table_and_key_has_the_line_on_which_it_was_written(
    tables: list[dict[str, object]],
) -> None:
    lines: list[str] = []
    expected: dict[tuple[str | int, ...], int] = {}
    for number, table in enumerate(tables):
        expected["t", number] = sum(text.count("\n") + 1 for text in lines) + 1
        lines.append("[[t]]")
        for key, value in table.items():
            expected["t", number, key] = sum(text.count("\n") + 1 for text in lines) + 1
            lines.append(f"{key} = {_toml(value)}")
    toml = read_toml("\n".join(lines).encode(), path="x")
    assert {key: toml.line(*key) for key in expected} == expected


def test_a_key_of_very_many_parts_is_refused_by_line_before_it_costs_time() -> None:
    for line in (
        ".".join(["a"] * 33) + " = 1",
        "[" + " . ".join(['"a"'] * 33) + "]",
        "x = { " + ".".join(["'a'"] * 100_000) + " = 1 }",
    ):
        with pytest.raises(DescriptionError, match="a key has too many parts") as caught:
            read_toml(f"# first\n{line}\n".encode(), path="day.toml")
        assert caught.value.line == 2


def test_dots_that_join_no_key_are_no_key() -> None:
    numbers = ", ".join(["1.5"] * 100)
    text = "and so on" + "." * 100 + " a.b" * 30
    dotted = ".".join(["a"] * 31)
    read = read_toml(f'numbers = [{numbers}]\ntext = "{text}"\n{dotted} = 1\n'.encode(), path="d")
    assert len(read.values["numbers"]) == 100


def test_tables_within_tables_are_counted_together() -> None:
    deep = ".".join(["a"] * 20)
    with pytest.raises(DescriptionError, match="nested too deep"):
        read_toml(f"[{deep}]\n{deep} = 1\n".encode(), path="day.toml")


def test_a_whole_number_of_more_than_64_bits_is_refused_by_line() -> None:
    for number in ("0x" + "f" * 5_000, "9223372036854775808", "[[1], [-9223372036854775809]]"):
        with pytest.raises(DescriptionError, match="a whole number is too large") as caught:
            read_toml(f"a = 1\n[b]\nc = {number}\n".encode(), path="day.toml")
        assert caught.value.line == 3
    largest = "9223372036854775807"
    assert read_toml(f"a = {largest}\n".encode(), path="d").values["a"] == int(largest)
