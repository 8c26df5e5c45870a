"""The rule-set loader: what it accepts, and that each refusal names line and remedy."""

from __future__ import annotations

import pytest

from evidpack.errors import DescriptionError, UsageError
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.rules.built_in import BUILT_IN
from evidpack.rules.keys import INPUTS, KEYS
from evidpack.rules.ruleset import RuleSet, built_in, load_rule_set

GENERAL = built_in("general")


def refusal(data: bytes) -> DescriptionError:
    with pytest.raises(DescriptionError) as caught:
        load_rule_set(data, path="ours.toml")
    return caught.value


def line_of(data: bytes, text: str) -> int:
    return next(n for n, line in enumerate(data.decode().splitlines(), 1) if text in line)


@pytest.mark.parametrize("name", BUILT_IN)
def test_every_built_in_rule_set_loads_and_sources_every_value(name: str) -> None:
    rules = load_rule_set(built_in(name), path=name)
    assert rules.name == name
    assert all(value.source for value in rules.values.values())
    assert {value.status for value in rules.values.values()} <= {
        "published",
        "common practice",
        "own measure",
        "example",
    }


@pytest.mark.parametrize("name", ["example_mph", "example_kmh"])
def test_the_worked_examples_say_that_a_lawyer_must_confirm_them(name: str) -> None:
    rules = load_rule_set(built_in(name), path=name)
    assert "example" in rules.edition
    examples = [value for value in rules.values.values() if value.status == "example"]
    assert examples
    assert all("confirmed by a local lawyer" in value.source for value in examples)


def test_an_unknown_built_in_name_is_refused() -> None:
    with pytest.raises(UsageError, match="no rule set is called 'generel'"):
        built_in("generel")


def test_values_keep_unit_source_and_standing() -> None:
    rules = load_rule_set(GENERAL, path="general")
    value = rules.value("distance_tolerance")
    assert (value.value, value.unit, value.status) == (0.3, "m", "published")
    assert value.metres == pytest.approx(0.3)
    assert value.cite.endswith("2.4 (published)")


def test_a_value_that_is_not_there_is_named_with_a_remedy() -> None:
    rules = load_rule_set(GENERAL, path="general")
    assert rules.find("notice_days") is None
    with pytest.raises(DescriptionError, match="has no notice_days") as caught:
        rules.value("notice_days")
    assert "[values.notice_days]" in str(caught.value.hint)


def test_asking_for_an_unknown_input_is_a_mistake_of_the_program() -> None:
    rules = load_rule_set(GENERAL, path="general")
    with pytest.raises(KeyError):
        rules.requires("plenty")


REFUSED = [
    (
        "unknown value",
        b"[values.range_min]",
        b"[values.range_mini]",
        "unknown key 'range_mini'",
        "range_mini",
    ),
    (
        "unknown top key",
        b'edition = "2026-1"',
        b'edition = "2026-1"\nauthor = "x"',
        "unknown key 'author'",
        "author",
    ),
    (
        "wrong format",
        b"evidpack-rules-1",
        b"evidpack-rules-9",
        "this version reads evidpack-rules-1 only",
        "format =",
    ),
    (
        "wrong unit",
        b'value = 0.3\nunit = "m"',
        b'value = 0.3\nunit = "km"',
        "wrong unit of distance_tolerance",
        None,
    ),
    (
        "unit of another quantity",
        b'value = 0.3\nunit = "m"',
        b'value = 0.3\nunit = "mph"',
        "wrong unit of distance_tolerance",
        None,
    ),
    (
        "text for number",
        b"value = 0.3\n",
        b'value = "0.3"\n',
        "wrong type of distance_tolerance",
        None,
    ),
    (
        "flag for number",
        b"value = 0.3\n",
        b"value = true\n",
        "wrong type of distance_tolerance",
        None,
    ),
    (
        "fraction for whole",
        b"value = 12\n",
        b"value = 12.5\n",
        "wrong type of calibration_interval",
        None,
    ),
    ("negative", b"value = 0.3\n", b"value = -0.3\n", "distance_tolerance is too small", None),
    (
        "not a number",
        b"value = 0.3\n",
        b"value = nan\n",
        "distance_tolerance is not a finite number",
        None,
    ),
    (
        "infinite",
        b"value = 0.3\n",
        b"value = inf\n",
        "distance_tolerance is not a finite number",
        None,
    ),
    ("unknown test", b'"zero"]', b'"zeroo"]', "unknown name 'zeroo' in tests_before", None),
    (
        "unknown scope",
        b'value = "session"',
        b'value = "week"',
        "unknown name 'week' in tests_scope",
        None,
    ),
    ("unknown status", b'status = "published"', b'status = "true"', "wrong status", None),
    ("unknown input", b'"operator",', b'"operatr",', "unknown input 'operatr'", '"operatr",'),
    (
        "lower range above upper",
        b"value = 20\nunit",
        b"value = 2000\nunit",
        "range_min is not below range_max",
        "value = 2000",
    ),
    (
        "lower speed above upper",
        b"",
        (
            b'\n[values.speed_min]\nvalue = 90\nunit = "m/s"\nsource = "x"\nstatus = "example"\n'
            b'\n[values.speed_max]\nvalue = 180\nunit = "mph"\nsource = "x"\nstatus = "example"\n'
        ),
        "speed_min is not below speed_max",
        "value = 90",
    ),
    (
        "tolerance upside down",
        b"value = -2\n",
        b"value = 2\n",
        "speed_tolerance_low is not below speed_tolerance_high",
        None,
    ),
    (
        "agreement beyond the same picture",
        b"value = 0.75\n",
        b"value = 1.01\n",
        "thumbnail_correlation_min is too large",
        "value = 1.01",
    ),
    ("a name with other signs", b'name = "general"', b'name = "Ours!"', "lower-case letters", None),
    ("a list that does not end", b"", b"\nx = [", "not TOML", "x = ["),
    (
        "two practices",
        b"",
        b'\n[values.threshold_share]\nvalue = 10\nunit = "%"\nsource = "x"\nstatus = "example"\n',
        "threshold_share, threshold_fixed belong together",
        None,
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "message", "at"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED]
)
def test_a_wrong_rule_file_is_refused_with_line_and_hint(
    old: bytes, new: bytes, message: str, at: str | None
) -> None:
    data = GENERAL.replace(old, new, 1) if old else GENERAL + new
    assert data != GENERAL
    error = refusal(data)
    assert message in error.message
    assert error.path == "ours.toml"
    assert error.hint
    assert error.line is not None
    if at is not None:
        assert error.line == line_of(data, at)


def test_the_line_is_that_of_the_part_that_is_wrong() -> None:
    data = GENERAL.replace(b'value = 0.3\nunit = "m"', b'value = 0.3\nunit = "km"', 1)
    error = refusal(data)
    assert data.decode().splitlines()[(error.line or 0) - 1] == 'unit = "km"'
    assert (error.expected, error.observed) == ("m or ft", "'km'")


@pytest.mark.parametrize("part", ["value", "unit", "source", "status"])
def test_each_part_of_a_value_is_needed(part: str) -> None:
    lines = GENERAL.decode().splitlines()
    start = lines.index("[values.distance_tolerance]")
    index = next(n for n in range(start, len(lines)) if lines[n].startswith(f"{part} ="))
    error = refusal("\n".join([*lines[:index], *lines[index + 1 :]]).encode())
    assert error.message == f"distance_tolerance has no {part}"
    assert error.line == start + 1


def test_an_empty_source_counts_as_missing() -> None:
    lines = GENERAL.decode().splitlines()
    start = lines.index("[values.distance_tolerance]")
    index = next(n for n in range(start, len(lines)) if lines[n].startswith("source ="))
    lines[index] = 'source = "  "'
    assert refusal("\n".join(lines).encode()).message == "distance_tolerance has no source"


@pytest.mark.parametrize("key", [key.name for key in KEYS.values() if key.needed])
def test_a_needed_value_that_is_missing_is_named_with_an_example(key: str) -> None:
    lines = GENERAL.decode().splitlines()
    start = lines.index(f"[values.{key}]")
    end = next((n for n in range(start + 1, len(lines)) if lines[n].startswith("[")), len(lines))
    error = refusal("\n".join([*lines[:start], *lines[end:]]).encode())
    assert error.message.startswith(f"{key} is missing")
    assert str(error.hint).startswith(f"[values.{key}]")


def test_a_value_in_one_line_is_found_on_its_line_too() -> None:
    head, _, _ = GENERAL.partition(b"[values.")
    error = refusal(
        head
        + b'[values]\nrange_min = { value = 1, unit = "mile", source = "x", status = "published" }\n'
    )
    assert error.message == "wrong unit of range_min"
    assert error.line == head.count(b"\n") + 2


def test_a_value_that_is_no_table_is_refused() -> None:
    head, _, _ = GENERAL.partition(b"[values.")
    error = refusal(head + b"[values]\nrange_min = 20\n")
    assert error.message == "range_min needs value, unit, source and status"


def test_toml_that_does_not_parse_is_refused_with_its_line() -> None:
    error = refusal(GENERAL.replace(b"value = 0.3", b"value = 0.3.3", 1))
    assert error.message.startswith("not TOML")
    assert error.line == line_of(GENERAL, "value = 0.3")


@pytest.mark.parametrize(
    "data", [b"a = " + b"[" * 20_000, b"a = " + b"9" * 10_000, b"\x00", b"a = 1\na = 2"]
)
def test_hostile_toml_ends_in_our_own_error(data: bytes) -> None:
    assert refusal(data).message.startswith("not TOML")


def test_bytes_that_are_not_utf8_are_refused_with_their_offset() -> None:
    error = refusal(GENERAL[:50] + b"\xff" + GENERAL[50:])
    assert (error.message, error.offset) == ("a rule set is UTF-8", 50)


def test_the_size_limit_holds_at_the_limit_and_past_it() -> None:
    padding = MAX_DESCRIPTION_BYTES - len(GENERAL) - 2
    at_limit = GENERAL + b"\n#" + b"x" * padding
    assert len(at_limit) == MAX_DESCRIPTION_BYTES
    assert isinstance(load_rule_set(at_limit, path="x"), RuleSet)
    assert "at most" in refusal(at_limit + b"x").message


@pytest.mark.parametrize("name", ["General", "../x", "", "a" * 80])
def test_a_name_is_plain(name: str) -> None:
    error = refusal(GENERAL.replace(b'name = "general"', f'name = "{name}"'.encode(), 1))
    assert error.line == line_of(GENERAL, "name =")


def test_deduction_and_threshold_are_two_practices_unless_the_rule_set_says_both() -> None:
    kmh = built_in("example_kmh")
    both = kmh + b"".join(
        f'\n[values.{key}]\nvalue = {value}\nunit = "{unit}"\nsource = "x"\nstatus = "example"\n'.encode()
        for key, value, unit in (("threshold_share", 10, "%"), ("threshold_fixed", 3, "km/h"))
    )
    assert "two practices" in refusal(both).message
    allowed = both + (
        b'\n[values.deduction_and_threshold]\nvalue = true\nunit = "flag"\nsource = "x"\n'
        b'status = "example"\n'
    )
    assert load_rule_set(allowed, path="x").value("deduction_and_threshold").flag


def test_a_window_that_is_empty_is_refused() -> None:
    data = GENERAL.replace(b'value = 20\nunit = "m"', b'value = 20000\nunit = "ft"', 1)
    assert refusal(data).message == "range_min is not below range_max"


def test_the_tables_of_keys_and_inputs_explain_themselves() -> None:
    assert all(key.about and key.units for key in KEYS.values())
    assert all(INPUTS.values())


def test_a_key_of_very_many_parts_is_refused_by_line_before_it_costs_time() -> None:
    data = b"# first\n[" + b".".join([b"a"] * 100_000) + b"]\n"
    with pytest.raises(DescriptionError, match="a key has too many parts") as caught:
        load_rule_set(data, path="rules.toml")
    assert caught.value.line == 2


@pytest.mark.parametrize("place", ["name = {}", "required = [{}]", "[values.x]\nvalue = {}"])
def test_a_whole_number_of_more_than_64_bits_is_refused_wherever_it_stands(place: str) -> None:
    for number in ("0x" + "f" * 5_000, "9223372036854775808", "-9223372036854775809"):
        with pytest.raises(DescriptionError, match="a whole number is too large"):
            load_rule_set(place.format(number).encode(), path="rules.toml")
