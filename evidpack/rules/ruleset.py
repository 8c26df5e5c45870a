"""Reading a rule set: strict, with the line and a correct example in every refusal."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, NoReturn

from evidpack.errors import DescriptionError
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.rules.built_in import built_in
from evidpack.rules.keys import INPUTS, KEYS, Key, ValueType
from evidpack.rules.line_numbers import find_item, find_line
from evidpack.rules.rule_values import FORMAT, STATUSES, RuleScalar, RuleSet, RuleValue
from evidpack.rules.toml_bounds import endless_number, require_short_keys

__all__ = ["RuleSet", "RuleValue", "built_in", "load_rule_set"]

_TOP: Final = ("format", "name", "edition", "title", "required", "values")
_PARTS: Final = ("value", "unit", "source", "status")
_NAME: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,63}")
_ERROR_LINE: Final = re.compile(r"at line (\d+), column")
_EXAMPLE: Final = (
    '[values.distance_tolerance]\nvalue = 0.3\nunit = "m"\nsource = "…"\nstatus = "published"'
)


def load_rule_set(data: bytes, *, path: str) -> RuleSet:
    """The rule set in `data`.

    Raises DescriptionError with path, line and hint for TOML that does not parse, an unknown or
    missing key, a wrong type or unit, a value out of bounds, and a missing source or status.
    """
    reader = _Reader(data, path)
    top = reader.top()
    for name in top:
        if name not in _TOP:
            reader.refuse(name, f"unknown key {name!r}", expected=", ".join(_TOP), observed=name)
    reader.text(top, "format", exactly=FORMAT)
    name = reader.text(top, "name")
    if not _NAME.fullmatch(name):
        reader.refuse(
            "name",
            "a name is lower-case letters, digits, _ and -",
            expected="such as ours-2",
            observed=name,
            hint='name = "ours-2"',
        )
    return RuleSet(
        name=name,
        edition=reader.text(top, "edition"),
        title=reader.text(top, "title"),
        required=reader.required(top),
        values=reader.values(top),
    )


class _Reader:
    """One rule file: its text for line numbers, and the refusals."""

    def __init__(self, data: bytes, path: str) -> None:
        self._path = path
        self._data = data
        self._lines: list[str] = []

    def top(self) -> dict[str, Any]:
        if len(self._data) > MAX_DESCRIPTION_BYTES:
            self.refuse(None, f"a rule set has at most {MAX_DESCRIPTION_BYTES} bytes")
        try:
            text = self._data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise DescriptionError(
                "a rule set is UTF-8",
                path=self._path,
                offset=error.start,
                hint="save the file as UTF-8 without a byte order mark",
            ) from error
        require_short_keys(text, path=self._path)
        self._lines = text.splitlines()
        try:
            values = tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            found = _ERROR_LINE.search(str(error))
            last = len(self._lines) if "at end of document" in str(error) else None
            raise DescriptionError(
                f"not TOML: {error}",
                path=self._path,
                line=int(found.group(1)) if found else last,
                hint=_EXAMPLE,
            ) from error
        if (key := endless_number(values)) is not None:
            self.refuse(str(key[0]), "a whole number is too large: it has more than 64 bits")
        return values

    def refuse(
        self,
        where: str | tuple[str, str] | int | None,
        message: str,
        *,
        expected: str | None = None,
        observed: object = None,
        hint: str = _EXAMPLE,
    ) -> NoReturn:
        """Raise, pointing at a top-level key, at (value key, part) or at a line."""
        raise DescriptionError(
            message,
            path=self._path,
            line=where
            if where is None or isinstance(where, int)
            else find_line(self._lines, where),
            expected=expected,
            observed=None if expected is None else str(observed),
            hint=hint,
        )

    def text(self, table: Mapping[str, Any], name: str, *, exactly: str | None = None) -> str:
        value = table.get(name)
        if not isinstance(value, str) or not value.strip():
            self.refuse(
                name,
                f"a rule set needs {name}",
                expected="a text",
                observed="nothing" if value is None else repr(value),
                hint=f'{name} = "{exactly or "…"}"',
            )
        if exactly is not None and value != exactly:
            self.refuse(
                name,
                f"this version reads {exactly} only",
                expected=exactly,
                observed=value,
                hint=f'{name} = "{exactly}"',
            )
        return value

    def required(self, top: Mapping[str, Any]) -> frozenset[str]:
        names = top.get("required")
        hint = 'required = ["device_tests", "clock_checks"]'
        if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
            self.refuse(
                "required",
                "required lists the inputs without which a check is adverse",
                expected="a list of texts",
                observed="nothing" if names is None else repr(names),
                hint=hint,
            )
        for name in names:
            if name not in INPUTS:
                self.refuse(
                    find_item(self._lines, "required", name),
                    f"unknown input {name!r}",
                    expected=_near(name, INPUTS),
                    observed=name,
                    hint=hint,
                )
        return frozenset(names)

    def values(self, top: Mapping[str, Any]) -> dict[str, RuleValue]:
        tables = top.get("values")
        if not isinstance(tables, dict):
            self.refuse("values", "a rule set needs a table [values.…] for each value")
        found: dict[str, RuleValue] = {}
        for name, table in tables.items():
            key = KEYS.get(name)
            if key is None:
                self.refuse(
                    (name, ""),
                    f"unknown key {name!r}",
                    expected=_near(name, KEYS),
                    observed=name,
                )
            found[name] = self._value(key, table)
        for key in KEYS.values():
            if key.needed and key.name not in found:
                self.refuse(None, f"{key.name} is missing: {key.about}", hint=key.example)
        self._together(found)
        return {name: found[name] for name in KEYS if name in found}

    def _value(self, key: Key, table: object) -> RuleValue:
        hint = key.example
        if not isinstance(table, dict):
            self.refuse(
                (key.name, "value"),
                f"{key.name} needs value, unit, source and status",
                expected="a table",
                observed=repr(table),
                hint=hint,
            )
        for part in table:
            if part not in _PARTS:
                self.refuse(
                    (key.name, part),
                    f"unknown part {part!r} of {key.name}",
                    expected=", ".join(_PARTS),
                    observed=part,
                    hint=hint,
                )
        for part in _PARTS:
            if part not in table:
                self.refuse((key.name, ""), f"{key.name} has no {part}", hint=hint)
        for part, allowed in (("unit", key.units), ("status", STATUSES)):
            if table[part] not in allowed:
                self.refuse(
                    (key.name, part),
                    f"wrong {part} of {key.name}",
                    expected=" or ".join(allowed),
                    observed=repr(table[part]),
                    hint=hint,
                )
        if not isinstance(table["source"], str) or not table["source"].strip():
            self.refuse((key.name, "source"), f"{key.name} has no source", hint=hint)
        return RuleValue(
            key=key.name,
            value=self._scalar(key, table["value"]),
            unit=table["unit"],
            source=table["source"].strip(),
            status=table["status"],
        )

    def _scalar(self, key: Key, value: object) -> RuleScalar:
        if not _has_type(key.type, value):
            self.refuse(
                (key.name, "value"),
                f"wrong type of {key.name}",
                expected=str(key.type),
                observed=repr(value),
                hint=key.example,
            )
        if isinstance(value, float) and not math.isfinite(value):
            self.refuse((key.name, "value"), f"{key.name} is not a finite number", hint=key.example)
        if (
            isinstance(value, (int, float))
            and not isinstance(value, bool)
            and key.minimum is not None
            and value < key.minimum
        ):
            self.refuse(
                (key.name, "value"),
                f"{key.name} is too small",
                expected=f"at least {key.minimum:g}",
                observed=value,
                hint=key.example,
            )
        if isinstance(value, list):
            value = tuple(value)
        texts = value if isinstance(value, tuple) else (value,)
        if key.choices:
            for text in texts:
                if text not in key.choices:
                    self.refuse(
                        (key.name, "value"),
                        f"unknown name {text!r} in {key.name}",
                        expected=" or ".join(key.choices),
                        observed=text,
                        hint=key.example,
                    )
        return value  # type: ignore[return-value]

    def _together(self, found: Mapping[str, RuleValue]) -> None:
        """Values that only make sense together."""
        deduction = [f"deduction_{part}" for part in ("fixed", "share", "share_from")]
        threshold = ["threshold_share", "threshold_fixed"]
        tolerance = ["speed_tolerance_low", "speed_tolerance_high"]
        for group in (deduction, threshold, tolerance):
            present = [name for name in group if name in found]
            if present and len(present) != len(group):
                self.refuse(
                    (present[0], "value"),
                    f"{', '.join(group)} belong together",
                    expected="all of them or none",
                    observed=", ".join(present),
                )
        if deduction[0] in found and threshold[0] in found:
            both = found.get("deduction_and_threshold")
            if both is None or not both.flag:
                self.refuse(
                    (threshold[0], "value"),
                    "a deduction and a threshold are two practices: a rule set applies one",
                    hint="leave one out, or set deduction_and_threshold to true",
                )
        self._below(found, "range_min", "range_max", lambda one: one.metres)
        self._below(found, "speed_min", "speed_max", lambda one: one.mps)
        self._below(found, "speed_tolerance_low", "speed_tolerance_high", lambda one: one.mps)
        agreement = found.get("thumbnail_correlation_min")
        if agreement is not None and agreement.number > 1:
            self.refuse(
                (agreement.key, "value"),
                f"{agreement.key} is too large",
                expected="at most 1: the same picture",
                observed=agreement.number,
                hint=KEYS[agreement.key].example,
            )

    def _below(
        self,
        found: Mapping[str, RuleValue],
        low: str,
        high: str,
        size: Callable[[RuleValue], float],
    ) -> None:
        """Refuse a lower limit that is not below the upper one; either may be absent."""
        pair = found.get(low), found.get(high)
        if pair[0] is not None and pair[1] is not None and size(pair[0]) >= size(pair[1]):
            self.refuse(
                (low, "value"),
                f"{low} is not below {high}",
                expected=f"less than {pair[1].value} {pair[1].unit}",
                observed=f"{pair[0].value} {pair[0].unit}",
                hint=f"correct {low} or {high}",
            )


def _near(name: str, known: Iterable[str]) -> str:
    """The known names most like this one."""
    import difflib  # slow to load, and only for mistakes

    return " or ".join(difflib.get_close_matches(name, list(known), n=3, cutoff=0.0))


def _has_type(kind: ValueType, value: object) -> bool:
    if kind is ValueType.FLAG:
        return isinstance(value, bool)
    if kind is ValueType.WHOLE:
        return isinstance(value, int) and not isinstance(value, bool)
    if kind is ValueType.NUMBER:
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    if kind is ValueType.TEXT:
        return isinstance(value, str) and bool(value.strip())
    return isinstance(value, list) and all(isinstance(text, str) for text in value)
