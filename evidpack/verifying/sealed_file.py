"""What the opening of a file's entry says."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.container import layout
from evidpack.errors import ProofError
from evidpack.model.records import ItemKind
from evidpack.model.values import JsonValue
from evidpack.proof.entries import utc_text
from evidpack.proof.openings import Opening

ORIGINS: Final = ("export", "office")
_KINDS: Final = tuple(kind.value for kind in ItemKind)
_UTC: Final = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:\.\d{6})?Z", re.ASCII)
_HEX64: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedFile:
    """What a file entry says, once its opening has been checked against its commitments."""

    entry: int
    key: bytes
    path: str
    size: int
    sha256: bytes
    origin: str
    item_kind: str
    modified: str
    original_name: str | None
    pixel_root: bytes | None
    width_px: int | None
    height_px: int | None
    decoder: str | None


def sealed_file(number: int, opening: Opening) -> SealedFile:
    """What the opening of file entry `number` (from 0) says.

    Raises ProofError, naming the entry and the value, where one is missing or of another form.
    """
    values = _Values(number, opening.values)
    origin = values.choice("origin", ORIGINS)
    path = values.text("path")
    if not path.startswith(f"{origin}/"):
        raise values.wrong("path", f"a path under {origin}/, its origin")
    still = "pixel_root" in opening.values
    return SealedFile(
        entry=number,
        key=opening.key,
        path=path,
        size=values.whole("size"),
        sha256=values.digest("sha256"),
        origin=origin,
        item_kind=values.choice("item_kind", _KINDS),
        modified=values.utc("modified"),
        original_name=values.text("original_name") if "original_name" in opening.values else None,
        pixel_root=values.digest("pixel_root") if still else None,
        width_px=values.whole("width_px") if still else None,
        height_px=values.whole("height_px") if still else None,
        decoder=values.text("decoder") if still else None,
    )


@dataclass(frozen=True, slots=True)
class _Values:
    """The values of one file entry, each asked for in its form."""

    number: int
    values: Mapping[str, JsonValue]

    def text(self, name: str) -> str:
        value = self.values.get(name)
        if not isinstance(value, str):
            raise self._error(f' lacks a text "{name}"')
        return value

    def whole(self, name: str) -> int:
        value = self.values.get(name)
        if not isinstance(value, int) or isinstance(value, bool) or value < 0:
            raise self._error(f' lacks a whole number "{name}"')
        return value

    def digest(self, name: str) -> bytes:
        value = self.text(name)
        if not _HEX64.fullmatch(value):
            raise self._error(f': "{name}" is no SHA-256 in lower-case hex')
        return bytes.fromhex(value)

    def choice(self, name: str, choices: tuple[str, ...]) -> str:
        value = self.text(name)
        if value not in choices:
            raise self.wrong(name, " or ".join(choices))
        return value

    def utc(self, name: str) -> str:
        """A time in the one form that a sealer writes: RFC 3339, UTC, with a Z."""
        value = self.text(name)
        try:
            right = _UTC.fullmatch(value) and utc_text(datetime.fromisoformat(value)) == value
        except ValueError:
            right = False
        if not right:
            raise self.wrong(name, "a time in UTC as RFC 3339 has it, with a Z")
        return value

    def wrong(self, name: str, expected: str) -> ProofError:
        return ProofError(
            f'file entry {self.number}: "{name}" is not of the right form',
            path=layout.OPENINGS,
            line=self.number + 1,
            expected=expected,
            observed=ascii(self.values.get(name))[:100],
        )

    def _error(self, what: str) -> ProofError:
        return ProofError(
            f"file entry {self.number}{what}", path=layout.OPENINGS, line=self.number + 1
        )
