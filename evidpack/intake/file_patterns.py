"""Globs and name patterns, with a bound on what matching may cost.

A day.toml is also read from bundles that somebody else made, so a pattern must not be able to
keep the reader busy: groups are never repeated, and few parts may vary in length.
"""

from __future__ import annotations

import re

# The parser of `re` has had these names since Python 3.11; a test fails should that change.
import re._constants as sre  # type: ignore[import-not-found]
import re._parser as sre_parse  # type: ignore[import-not-found]
import warnings
from collections.abc import Mapping
from typing import Any, Final

MAX_PATTERN_CHARACTERS: Final = 512
MAX_GLOB_CHARACTERS: Final = 512
MAX_MATCHED_NAME: Final = 160
MAX_VARYING_PARTS: Final = 3
GROUPS: Final = frozenset({"capture", "image_number", "session"})

_REPEATS: Final = {sre.MAX_REPEAT, sre.MIN_REPEAT, sre.POSSESSIVE_REPEAT}
_SIMPLE: Final = {sre.LITERAL, sre.NOT_LITERAL, sre.IN, sre.ANY, sre.CATEGORY, sre.RANGE}


class PatternError(ValueError):
    """A glob or a name pattern that can't be used; the message says why."""


class Glob:
    """``*`` and ``?`` stay within a folder, ``**/`` crosses folders; case is ignored."""

    def __init__(self, text: str) -> None:
        if not text or len(text) > MAX_GLOB_CHARACTERS or text.startswith("/") or "\\" in text:
            raise PatternError("a glob is relative to the export and uses / between folders")
        self.text = text
        self._parts = tuple(part.casefold() for part in text.split("/"))
        first = self._parts[0]
        # Most files of a day fail a glob at once, by the folder in which they lie.
        self._beginning = "" if _varies(first) else first
        last = self._parts[-1]
        self._ending = "" if last == "**" else last[max(last.rfind("*"), last.rfind("?")) + 1 :]

    def matches(self, path: str) -> bool:
        """Whether a path relative to the export matches."""
        folded = path.casefold()
        if not folded.startswith(self._beginning) or not folded.endswith(self._ending):
            return False
        return _match_parts(self._parts, tuple(folded.split("/")))


def _varies(glob: str) -> bool:
    return "*" in glob or "?" in glob


def _match_parts(globs: tuple[str, ...], parts: tuple[str, ...]) -> bool:
    """Both sides by the usual table: reachable[j] says that globs[i:] can match parts[j:]."""
    reachable = [False] * len(parts) + [True]
    for glob in reversed(globs):
        if glob == "**":
            for number in range(len(parts) - 1, -1, -1):
                reachable[number] = reachable[number] or reachable[number + 1]
            continue
        before = reachable
        reachable = [
            before[number + 1] and _match_part(glob, parts[number]) for number in range(len(parts))
        ] + [False]
    return reachable[0]


def _match_part(glob: str, part: str) -> bool:
    """``*`` and ``?`` in one folder's name, without backtracking over more than one star."""
    before, star_found, behind = glob.partition("*")
    if not _varies(before + behind):
        # One star or none, which is nearly every glob.
        if not star_found:
            return part == glob
        enough = len(part) >= len(before) + len(behind)
        return enough and part.startswith(before) and part.endswith(behind)
    at = here = 0
    star = -1
    resume = 0
    while at < len(part):
        if here < len(glob) and glob[here] == "*":
            star, resume = here, at
            here += 1
        elif here < len(glob) and glob[here] in ("?", part[at]):
            here += 1
            at += 1
        elif star >= 0:
            resume += 1
            at, here = resume, star + 1
        else:
            return False
    return not glob[here:].strip("*")


class NamePattern:
    """A regular expression with the groups capture, image_number and session."""

    def __init__(self, text: str) -> None:
        if len(text) > MAX_PATTERN_CHARACTERS:
            raise PatternError(f"a name pattern has at most {MAX_PATTERN_CHARACTERS} characters")
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                parsed = sre_parse.parse(text, re.IGNORECASE)
                self._pattern = re.compile(text, re.IGNORECASE)
        except (re.error, RecursionError, OverflowError) as error:
            raise PatternError(f"not a regular expression: {error}") from error
        if _varying_parts(parsed, repeated=False) > MAX_VARYING_PARTS:
            raise PatternError(
                f"more than {MAX_VARYING_PARTS} parts vary in length: say how many characters, "
                r"as in \d{4}"
            )
        unknown = set(self._pattern.groupindex) - GROUPS
        if unknown:
            raise PatternError(f"unknown groups: {', '.join(sorted(unknown))}")
        self.text = text
        self.groups = frozenset(self._pattern.groupindex)

    def read(self, path: str) -> Mapping[str, str] | None:
        """The groups in a file's name (in its path, where the pattern has a slash), or None."""
        name = path if "/" in self.text else path.rpartition("/")[2]
        if len(name) > MAX_MATCHED_NAME:
            return None
        found = self._pattern.fullmatch(name)
        if found is None:
            return None
        return {key: value for key, value in found.groupdict().items() if value}


def _varying_parts(parsed: Any, *, repeated: bool) -> int:
    """Counts repeats of varying length. Raises PatternError for what may cost too much."""
    count = 0
    for operator, argument in parsed:
        if operator in _SIMPLE or operator is sre.AT:
            continue
        if operator is sre.SUBPATTERN and not repeated:
            count += _varying_parts(argument[3], repeated=False)
        elif operator is sre.BRANCH and not repeated:
            count += max(_varying_parts(branch, repeated=False) for branch in argument[1])
            count += 1
        elif operator in _REPEATS and not repeated:
            least, most, inner = argument
            count += least != most
            # A group that is there or not is read once; anything repeated must be one character.
            count += _varying_parts(inner, repeated=(least, most) != (0, 1))
        else:
            raise PatternError(
                "only characters, classes, groups and simple repeats may stand in a name pattern"
            )
    return count
