"""The files of a pack's proof: what a line of each is, written and read (docs/format.md, Pack)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.members import Members

_LEAF_LINE: Final = re.compile(rb"[0-9a-f]{64}")
_SALT: Final = re.compile(r"[0-9a-f]{32}")
_TILE_LINE: Final = re.compile(rb"(?:open ([0-9a-f]{32})|closed ([0-9a-f]{64}))")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedField:
    """A field's salt (16 bytes) and value."""

    salt: bytes
    value: JsonValue


@dataclass(frozen=True, slots=True, kw_only=True)
class PackOpening:
    """What is opened of one entry, by name of field."""

    entry: int
    fields: Mapping[str, OpenedField]

    @property
    def values(self) -> dict[str, JsonValue]:
        """The opened values alone."""
        return {name: field.value for name, field in self.fields.items()}

    def to_bytes(self) -> bytes:
        """The canonical JSON of the line, without line feed."""
        fields: dict[str, JsonValue] = {
            name: {"salt": field.salt.hex(), "value": field.value}
            for name, field in self.fields.items()
        }
        return canonical_bytes({"entry": self.entry, "fields": fields})


def parse_pack_opening(line: bytes, *, path: str, number: int) -> PackOpening:
    """Read one line of a pack's openings strictly; `number` is the line's, from 1.

    Raises ProofError with path and line.
    """
    try:
        members = Members(
            parse_canonical(line, path=path, line=number), path=path, where="the opening"
        )
        entry = members.integer("entry")
        raw = Members(members.take("fields"), path=path, where="the opened fields")
        members.finish()
        fields = {name: _parse_field(raw.take(name), name, path) for name in raw.names}
        if not fields:
            raise members.wrong("fields", "at least one opened field")
    except ProofError as error:
        error.line = number
        raise
    return PackOpening(entry=entry, fields=fields)


def _parse_field(value: JsonValue, name: str, path: str) -> OpenedField:
    inner = Members(value, path=path, where=f'field "{name[:100]}"')
    salt = inner.text("salt")
    if not _SALT.fullmatch(salt):
        raise inner.wrong("salt", "32 lower-case hexadecimal digits")
    field = OpenedField(salt=bytes.fromhex(salt), value=inner.take("value"))
    inner.finish()
    return field


def leaves_text(leaves: Iterable[bytes]) -> bytes:
    """Every leaf digest in order, one a line in hex."""
    return "".join(f"{leaf.hex()}\n" for leaf in leaves).encode()


def parse_leaves(data: bytes, *, path: str) -> list[bytes]:
    """Read the leaf digests strictly. Raises ProofError with path and line."""
    return [
        bytes.fromhex(line.decode())
        for line in _matching_lines(data, _LEAF_LINE, path, "64 lower-case hexadecimal digits")
    ]


def _matching_lines(data: bytes, pattern: re.Pattern[bytes], path: str, what: str) -> list[bytes]:
    lines = data.split(b"\n")
    if lines.pop() != b"":
        raise ProofError("the last line has no line feed", path=path, line=len(lines) + 1)
    for number, line in enumerate(lines, start=1):
        if not pattern.fullmatch(line):
            raise ProofError(
                "a line is not of the form",
                path=path,
                line=number,
                expected=what,
                observed=ascii(line[:80]),
            )
    return lines


def tiles_text(salts: Mapping[int, bytes], closed: Mapping[int, bytes]) -> bytes:
    """One line a tile in order: ``open`` and its salt, or ``closed`` and its leaf digest."""
    return "".join(
        f"open {salts[tile].hex()}\n" if tile in salts else f"closed {closed[tile].hex()}\n"
        for tile in range(len(salts) + len(closed))
    ).encode()


def parse_tiles(data: bytes, *, path: str) -> tuple[dict[int, bytes], dict[int, bytes]]:
    """Salts of open tiles and leaf digests of closed ones. Raises ProofError with path and line."""
    salts: dict[int, bytes] = {}
    closed: dict[int, bytes] = {}
    what = '"open" and 32 or "closed" and 64 lower-case hexadecimal digits'
    for tile, line in enumerate(_matching_lines(data, _TILE_LINE, path, what)):
        word, digits = line.split(b" ")
        (salts if word == b"open" else closed)[tile] = bytes.fromhex(digits.decode())
    return salts, closed


@dataclass(frozen=True, slots=True, kw_only=True)
class RedactionRecord:
    """What was blacked out in a still, why, by whom and when. Boxes are x, y, width, height and
    polygons lists of x, y, in pixels; `tiles` the closed tiles."""

    entry: int
    exhibit: int
    boxes: Sequence[Sequence[int]]
    polygons: Sequence[Sequence[Sequence[int]]]
    tiles: Sequence[int]
    reason: str
    by: str
    at: str

    def to_bytes(self) -> bytes:
        """The canonical JSON of the line, without line feed."""
        boxes: list[JsonValue] = [[*box] for box in self.boxes]
        polygons: list[JsonValue] = [[[*point] for point in one] for one in self.polygons]
        return canonical_bytes(
            {
                "at": self.at,
                "boxes": boxes,
                "by": self.by,
                "entry": self.entry,
                "exhibit": self.exhibit,
                "polygons": polygons,
                "reason": self.reason,
                "tiles": [*self.tiles],
            }
        )


def parse_redaction(line: bytes, *, path: str, number: int) -> RedactionRecord:
    """Read one redaction record strictly; `number` is the line's, from 1. Raises ProofError."""
    try:
        members = Members(
            parse_canonical(line, path=path, line=number), path=path, where="the redaction record"
        )
        found = RedactionRecord(
            entry=members.integer("entry"),
            exhibit=members.integer("exhibit"),
            boxes=_whole_numbers(members, "boxes", 2),
            polygons=_whole_numbers(members, "polygons", 3),
            tiles=_whole_numbers(members, "tiles", 1),
            reason=members.text("reason"),
            by=members.text("by"),
            at=members.text("at"),
        )
        members.finish()
    except ProofError as error:
        error.line = number
        raise
    return found


def _whole_numbers(members: Members, name: str, depth: int) -> tuple:  # type: ignore[type-arg]
    """Whole numbers in lists nested so deep, as tuples."""

    def frozen(value: JsonValue, left: int) -> object:
        if left and isinstance(value, list):
            return tuple(frozen(one, left - 1) for one in value)
        if not left and isinstance(value, int) and not isinstance(value, bool):
            return value
        raise members.wrong(name, f"whole numbers in lists, {depth} deep")

    found = frozen(members.take(name), depth)
    return found if isinstance(found, tuple) else ()
