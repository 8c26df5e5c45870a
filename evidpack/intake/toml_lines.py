"""TOML with the line of every key and table, so that an error can point at it.

`tomllib` reads the values; it keeps no lines.  A second pass over text that `tomllib` has accepted
finds where each key stands (TOML 1.0.0, from memory of its grammar).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from evidpack.errors import DescriptionError
from evidpack.limits import MAX_DESCRIPTION_BYTES, MAX_JSON_DEPTH
from evidpack.rules.toml_bounds import endless_number, require_short_keys

KeyPath: TypeAlias = tuple[str | int, ...]

GUESS: Final = "confirm:"

_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_SPACE: Final = re.compile(r"[ \t]*")
_GAP: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SCALAR: Final = re.compile(r"[^,\]}\s#]+(?: [0-9][^,\]}\s#]*)?")
_AT_LINE: Final = re.compile(r"at line (\d+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class TableHeader:
    """A ``[table]`` or ``[[table]]`` header. `path` ends in the table's number for ``[[…]]``."""

    path: KeyPath
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TomlText:
    """A TOML file: its values, and where they stand. `path` is the name to show in errors."""

    path: str
    values: Mapping[str, Any]
    lines: Mapping[KeyPath, int]
    headers: tuple[TableHeader, ...]

    def line(self, *key: str | int) -> int | None:
        """The line of a key or table, else of the nearest table around it that has one."""
        for length in range(len(key), 0, -1):
            found = self.lines.get(key[:length])
            if found is not None:
                return found
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A guess of `describe` that nobody has confirmed yet."""

    path: str
    line: int | None
    text: str


def read_toml(data: bytes, *, path: str) -> TomlText:
    """Reads a TOML file in UTF-8, with or without a byte order mark.

    Raises DescriptionError with the line where the text is not TOML.
    """
    if len(data) > MAX_DESCRIPTION_BYTES:
        raise DescriptionError(
            "the file is too large",
            path=path,
            expected=f"at most {MAX_DESCRIPTION_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DescriptionError(
            "the file is not UTF-8",
            path=path,
            line=data[: error.start].count(b"\n") + 1,
            hint="save it as UTF-8 in the editor",
        ) from error
    text = text.replace("\r\n", "\n")
    require_short_keys(text, path=path)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _AT_LINE.search(str(error))
        raise DescriptionError(
            f"not TOML: {error}",
            path=path,
            line=int(found[1]) if found else None,
            hint='a line reads: key = "text", key = 12, key = true, or [table]',
        ) from error
    except (RecursionError, ValueError) as error:
        raise DescriptionError(
            "not TOML: nested too deep or a number too long", path=path
        ) from error
    scanner = _Scanner(text)
    try:
        scanner.scan()
    except (IndexError, ValueError) as error:
        raise DescriptionError(
            "the lines of the file can't be followed, or values are nested too deep", path=path
        ) from error
    toml = TomlText(path=path, values=values, lines=scanner.lines, headers=tuple(scanner.headers))
    if (key := endless_number(values)) is not None:
        raise DescriptionError(
            "a whole number is too large",
            path=path,
            line=toml.line(*key),
            expected="a number of at most 64 bits",
            observed="one of more",
        )
    return toml


def guesses(toml: TomlText) -> tuple[Guess, ...]:
    """Every text that still begins with ``confirm:``, in the order of its line."""
    found = [
        Guess(path=toml.path, line=toml.line(*key), text=text)
        for key, text in _texts(toml.values, ())
        if text.startswith(GUESS)
    ]
    return tuple(sorted(found, key=lambda guess: guess.line or 0))


def _texts(value: Any, key: KeyPath) -> Iterator[tuple[KeyPath, str]]:
    if isinstance(value, str):
        yield key, value
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            if name.startswith(GUESS):
                yield (*key, name), name
            yield from _texts(inner, (*key, name))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _texts(inner, (*key, number))


class _Scanner:
    """Finds keys in text that is known to be TOML."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._counted_to = 0
        self._line = 1
        self._tables: dict[KeyPath, int] = {}
        self.lines: dict[KeyPath, int] = {}
        self.headers: list[TableHeader] = []

    def scan(self) -> None:
        """Goes through the whole text."""
        table: KeyPath = ()
        self._skip(_GAP)
        while self._at < len(self._text):
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table, 0)
            self._skip(_GAP)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        found = pattern.match(self._text, self._at)
        self._at = found.end() if found else self._at

    def _here(self) -> int:
        """The line at this place, counted on from the last call."""
        self._line += self._text.count("\n", self._counted_to, self._at)
        self._counted_to = self._at
        return self._line

    def _note(self, path: KeyPath, line: int) -> None:
        if len(path) > MAX_JSON_DEPTH:
            raise ValueError("nested too deep")
        self.lines.setdefault(path, line)

    def _header(self) -> KeyPath:
        line = self._here()
        many = self._text.startswith("[[", self._at)
        self._at += 2 if many else 1
        names = self._dotted()
        self._at += 2 if many else 1
        path = self._resolved(names[:-1])
        path = (*path, names[-1])
        if many:
            number = self._tables.get(path, -1) + 1
            self._tables[path] = number
            self._note(path, line)
            path = (*path, number)
        else:
            path = self._resolved(names)
        self._note(path, line)
        self.headers.append(TableHeader(path=path, line=line))
        return path

    def _resolved(self, names: tuple[str, ...]) -> KeyPath:
        """A dotted name in which each array of tables stands for its last table."""
        path: KeyPath = ()
        for name in names:
            path = (*path, name)
            if path in self._tables:
                path = (*path, self._tables[path])
        return path

    def _dotted(self) -> tuple[str, ...]:
        names: list[str] = []
        while True:
            self._skip(_SPACE)
            names.append(self._key())
            self._skip(_SPACE)
            if not self._text.startswith(".", self._at):
                return tuple(names)
            self._at += 1

    def _key(self) -> str:
        start = self._at
        if self._text[start] in "\"'":
            self._string()
            quoted = self._text[start : self._at]
            return str(tomllib.loads(f"k = {quoted}")["k"])
        self._skip(_BARE_KEY)
        if self._at == start:
            raise ValueError(f"no key at character {start}")
        return self._text[start : self._at]

    def _pair(self, table: KeyPath, depth: int) -> None:
        line = self._here()
        path = table
        for name in self._dotted():
            path = (*path, name)
            self._note(path, line)
        self._at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path, depth)

    def _value(self, path: KeyPath, depth: int) -> None:
        if depth > MAX_JSON_DEPTH:
            raise ValueError("nested too deep")
        first = self._text[self._at]
        if first in "\"'":
            self._string()
        elif first == "[":
            self._array(path, depth)
        elif first == "{":
            self._inline(path, depth)
        else:
            self._skip(_SCALAR)

    def _array(self, path: KeyPath, depth: int) -> None:
        self._at += 1
        number = 0
        self._skip(_GAP)
        while self._text[self._at] != "]":
            self._note((*path, number), self._here())
            self._value((*path, number), depth + 1)
            number += 1
            self._skip(_GAP)
            if self._text[self._at] == ",":
                self._at += 1
                self._skip(_GAP)
        self._at += 1

    def _inline(self, path: KeyPath, depth: int) -> None:
        self._at += 1
        self._skip(_GAP)
        while self._text[self._at] != "}":
            self._pair(path, depth + 1)
            self._skip(_GAP)
            if self._text[self._at] == ",":
                self._at += 1
                self._skip(_GAP)
        self._at += 1

    def _string(self) -> None:
        quote = self._text[self._at]
        if self._text.startswith(quote * 3, self._at):
            self._long_string(quote)
            return
        self._at += 1
        while self._text[self._at] != quote:
            self._at += 2 if quote == '"' and self._text[self._at] == "\\" else 1
        self._at += 1

    def _long_string(self, quote: str) -> None:
        self._at += 3
        while not self._text.startswith(quote * 3, self._at):
            self._at += 2 if quote == '"' and self._text[self._at] == "\\" else 1
        self._at += 3
        # Up to two quotes may stand right before the closing three.
        while self._text.startswith(quote, self._at):
            self._at += 1
