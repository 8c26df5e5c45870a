"""Reading the members of a signed JSON object strictly, each exactly once."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final

from evidpack.errors import ProofError
from evidpack.limits import FIRST_YEAR, LAST_YEAR
from evidpack.model.values import JsonValue

_HEX64: Final = re.compile(r"[0-9a-f]{64}")
_RFC3339: Final = re.compile(
    r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:\.\d{1,6})?(?:Z|[+-]\d{2}:\d{2})", re.ASCII
)


class Members:
    """The members of one JSON object, each taken once, with a clear error for each wrong shape."""

    def __init__(self, value: JsonValue, *, path: str, where: str) -> None:
        if not isinstance(value, dict):
            raise ProofError(f"{where} is not a JSON object", path=path)
        self.path = path
        self._where = where
        self._left = dict(value)

    @property
    def names(self) -> tuple[str, ...]:
        """The members that were not taken yet."""
        return tuple(self._left)

    def take(self, name: str) -> JsonValue:
        """The value of a member, whatever it is."""
        if name not in self._left:
            raise ProofError(f'{self._where} lacks "{name}"', path=self.path)
        return self._left.pop(name)

    def finish(self) -> None:
        """Raises ProofError where a member was not taken."""
        if self._left:
            raise ProofError(
                f"{self._where} has members that this format does not know",
                path=self.path,
                expected="none",
                observed=", ".join(sorted(self._left))[:200],
            )

    def wrong(self, name: str, expected: str) -> ProofError:
        """The error for a member of another form."""
        return ProofError(
            f'"{name}" of {self._where} is not of the right form',
            path=self.path,
            expected=expected,
            observed="something else",
        )

    def text(self, name: str) -> str:
        """A text."""
        value = self.take(name)
        if not isinstance(value, str):
            raise self.wrong(name, "a text")
        return value

    def integer(self, name: str) -> int:
        """A whole number."""
        value = self.take(name)
        if not isinstance(value, int) or isinstance(value, bool):
            raise self.wrong(name, "a whole number")
        return value

    def optional_integer(self, name: str) -> int | None:
        """A whole number, or None for null."""
        if self._left.get(name, 0) is None:
            self.take(name)
            return None
        return self.integer(name)

    def choice(self, name: str, choices: tuple[str, ...]) -> str:
        """One of some texts."""
        value = self.text(name)
        if value not in choices:
            raise self.wrong(name, " or ".join(choices))
        return value

    def digest(self, name: str) -> bytes:
        """32 bytes, given as 64 lower-case hex digits."""
        value = self.text(name)
        if not _HEX64.fullmatch(value):
            raise self.wrong(name, "64 lower-case hexadecimal digits")
        return bytes.fromhex(value)

    def time(self, name: str) -> datetime:
        """An aware time, given in RFC 3339, in a year that leaves room to count back and forth."""
        value = self.text(name)
        if not _RFC3339.fullmatch(value):
            raise self.wrong(name, "an RFC 3339 time with an offset")
        try:
            found = datetime.fromisoformat(value)
        except ValueError as error:
            raise self.wrong(name, "an RFC 3339 time that exists") from error
        if not FIRST_YEAR <= found.year <= LAST_YEAR:
            raise self.wrong(name, f"a time from the years {FIRST_YEAR} to {LAST_YEAR}")
        return found

    def counts(self, name: str, names: tuple[str, ...]) -> dict[str, int]:
        """Whole numbers from 0 under exactly these names."""
        inner = Members(self.take(name), path=self.path, where=f'"{name}"')
        counts = {member: inner.integer(member) for member in names}
        inner.finish()
        if any(count < 0 for count in counts.values()):
            raise self.wrong(name, "no negative number")
        return counts

    def digests(self, name: str) -> dict[str, bytes]:
        """Digests by name, under any names."""
        value = self.take(name)
        inner = Members(value, path=self.path, where=f'"{name}"')
        return {member: inner.digest(member) for member in inner.names}

    def optional_text(self, name: str) -> str | None:
        """A text, or None for null."""
        if self._left.get(name, 0) is None:
            self.take(name)
            return None
        return self.text(name)

    def optional_digest(self, name: str) -> bytes | None:
        """A digest, or None for null."""
        if self._left.get(name, 0) is None:
            self.take(name)
            return None
        return self.digest(name)

    def text_list(self, name: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.take(name)
        if not isinstance(value, list):
            raise self.wrong(name, "a list of texts")
        texts = tuple(one for one in value if isinstance(one, str))
        if len(texts) != len(value):
            raise self.wrong(name, "a list of texts")
        return texts

    def texts(self, name: str) -> dict[str, str]:
        """Texts by name, under any names."""
        value = self.take(name)
        inner = Members(value, path=self.path, where=f'"{name}"')
        return {member: inner.text(member) for member in inner.names}
