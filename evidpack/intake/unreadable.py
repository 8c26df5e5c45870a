"""What could not be read is a record too, with file, line and reason."""

from __future__ import annotations

from collections.abc import Mapping

from evidpack.limits import MAX_UNREADABLE_EXCERPT_CHARACTERS
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue


def unreadable(
    source: Source,
    *,
    reason: str,
    record: str,
    excerpt: str | None = None,
    raw: Mapping[str, str] | None = None,
) -> Record:
    """A record of kind `unreadable`. `record` names the kind that it should have been."""
    values: dict[str, JsonValue] = {
        "file": source.path,
        "line": source.line,
        "reason": reason,
        "record": record,
    }
    if excerpt is not None:
        values["excerpt"] = plain(excerpt[:MAX_UNREADABLE_EXCERPT_CHARACTERS])
    cells = {plain(column): plain(cell) for column, cell in (raw or {}).items()}
    return Record(kind=RecordKind.UNREADABLE, source=source, raw=cells, values=values)


def plain(text: str) -> str:
    r"""Text that JSON in UTF-8 can hold: a byte that could not be decoded reads ``\xNN``, a lone
    surrogate ``\uNNNN``.
    """
    if text.isascii():
        return text
    return "".join(
        character
        if not "\ud800" <= character <= "\udfff"
        else f"\\x{ord(character) - 0xDC00:02x}"
        if "\udc00" <= character <= "\udcff"
        else f"\\u{ord(character):04x}"
        for character in text
    )
