"""decisions.toml: what is accepted, and that each fault is named with its line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.disclosure.decisions import format_ranges, load_decisions, parse_ranges
from evidpack.errors import DescriptionError, ProofError

HEAD = """\
format = "evidpack-decisions-1"
[pack]
day = "D-1"
statement = "{digest}"
captures = ["C1"]
case = "AB-12"
recipient = "Defence"
decided_by = "C. Nobody"
decided_at = 2026-06-01T10:00:00+01:00
""".format(digest="0" * 64)
CLASS = '[[class]]\nclass = "x"\nentries = "0-2"\nuse = "unused"\ndecision = "release"\nreason = "mixed"\n'


def load(text: str) -> object:
    return load_decisions((HEAD + text).encode(), path="decisions.toml")


def fault(text: str, *, head: str = HEAD) -> DescriptionError:
    with pytest.raises(DescriptionError) as caught:
        load_decisions((head + text).encode(), path="decisions.toml")
    return caught.value


def test_a_class_and_an_entry_are_read() -> None:
    found = load_decisions(
        (
            HEAD
            + CLASS
            + '[[entry]]\nentry = 3\nuse = "relied on"\ndecision = "redact"\nclose = ["plate"]\n'
            'reason = "third-party"\n'
        ).encode(),
        path="d",
    )
    assert sorted(found.decisions) == [0, 1, 2, 3]
    assert found.decisions[1].alone is False
    assert found.decisions[3].close == ("plate",)
    assert found.decisions[3].line == 16
    assert found.case.decided_at.isoformat() == "2026-06-01T10:00:00+01:00"


@pytest.mark.parametrize(
    ("text", "message", "line"),
    [
        ('[[entry]]\nentry = 1\nuse = "unused"\ndecision = "release"\n', "needs a reason", 10),
        ('[[entry]]\nentry = 1\nuse = "?"\ndecision = "release"\nreason = "x"\n', "none of", 12),
        ('[[entry]]\nentry = 1\nuse = "unused"\ndecision = "burn"\nreason = "x"\n', "none of", 13),
        ('[[entry]]\nuse = "unused"\ndecision = "release"\nreason = "x"\n', "entry is missing", 10),
        (CLASS.replace("0-2", "2-0"), "runs backwards", 12),
        (CLASS.replace("0-2", "two"), "numbers and ranges", 12),
        (CLASS + CLASS, "entry 0 is decided twice, at line 10 already", 16),
        (CLASS + "sensitive = true\n", "no key 'sensitive'", 16),
        (
            (
                '[[entry]]\nentry = 1\nuse = "unused"\ndecision = "release"\nreason = "x"\n'
                'close = ["plate"]\n'
            ),
            "close goes with redact",
            15,
        ),
        (
            (
                '[[entry]]\nentry = 1\nuse = "unused"\ndecision = "release"\nreason = "x"\n'
                "sensitive = true\n"
            ),
            "sensitive material is withheld, and says why",
            15,
        ),
        (
            (
                '[[entry]]\nentry = 1\nuse = "unused"\ndecision = "withhold"\nreason = "x"\n'
                "sensitive = true\n"
            ),
            "sensitive material is withheld, and says why",
            15,
        ),
        ('[[redact]]\nentry = 1\nreason = "x"\n', "needs boxes or polygons", 10),
        ('[[redact]]\nentry = 1\nreason = "x"\nboxes = [[1, 2, 3]]\n', "x, y, width, height", 13),
        ('[[redact]]\nentry = 1\nreason = "x"\nboxes = [[1, 2, 3, 4.5]]\n', "whole numbers", 13),
        (
            '[[redact]]\nentry = 1\nreason = "x"\npolygons = [[[1, 2], [3, 4]]]\n',
            "three or more points",
            13,
        ),
        ("[[surprise]]\n", "no key 'surprise'", 10),
    ],
)
def test_a_fault_is_named_with_its_line(text: str, message: str, line: int) -> None:
    found = fault(text)
    assert message in found.message
    assert found.line == line
    assert found.hint


@pytest.mark.parametrize("name", ["case", "recipient", "decided_by", "decided_at"])
def test_what_the_draft_leaves_open_must_be_filled_in(name: str) -> None:
    head = "\n".join(
        f'{name} = ""' if line.startswith(f"{name} =") else line for line in HEAD.splitlines()
    )
    assert name in fault(CLASS, head=head + "\n").message


def test_a_time_without_an_offset_is_refused() -> None:
    assert "offset" in fault(CLASS, head=HEAD.replace("+01:00", "")).message


@given(st.sets(st.integers(min_value=0, max_value=300)))
def test_ranges_are_written_and_read_back(numbers: set[int]) -> None:
    listed = sorted(numbers)
    text = format_ranges(listed)
    assert parse_ranges(text) == listed


@pytest.mark.parametrize("text", ["1,", "1-", "-1", "1–2", "5-3", "0-999999999"])
def test_other_forms_of_ranges_are_refused(text: str) -> None:
    with pytest.raises(ProofError):
        parse_ranges(text)


@pytest.mark.parametrize("time", ["9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00+23:59"])
def test_a_time_with_which_no_offset_can_be_counted_is_refused(time: str) -> None:
    error = fault(CLASS, head=HEAD.replace("2026-06-01T10:00:00+01:00", time))
    assert "decided_at has a year outside 1970 to 9000" in error.message
