"""Does each still and clip belong to one reading, and each identifier to one? Part of check 18."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, names, upper_first
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

SOURCE: Final = "common practice, no source"
_LISTED: Final = 6


def identifiers_used_twice(look: Look, say: Say) -> Iterator[Finding]:
    """Readings that bear the identifier of another: a row copied, or an identifier used again."""
    for group in look.sharing_identifiers:
        numbers = [reading.number for reading in group]
        first = group[0].record
        same = all(one.record.raw == first.raw for one in group) and bool(first.raw)
        words = "are one row, more than once" if same else "bear one identifier"
        yield say.query(
            captures(numbers),
            f"{upper_first(captures(numbers))} {words}.",
            "The operator or the maker can say whether a row was copied or an identifier used again.",
            measured=len(numbers),
            limit=1,
            source=SOURCE,
        )


def unread_readings(look: Look) -> tuple[Record, ...]:
    """Rows of readings that could not be read."""
    return tuple(
        record
        for record in look.day.of(RecordKind.UNREADABLE)
        if record.text("record") == RecordKind.READING.value
    )


def joined_once(look: Look, say: Say) -> Iterator[Finding]:
    """Stills and clips that belong to no reading, to more than one, or of which nobody says how."""
    unread = {cell.strip() for record in unread_readings(look) for cell in record.raw.values()}
    twice = bool(look.sharing_identifiers)
    for kind, word in ((RecordKind.STILL, "still"), (RecordKind.CLIP, "clip")):
        found: dict[str, list[str]] = {}
        waiting: list[str] = []
        for record in look.day.of(kind):
            state = record.text("joined") or "not declared"
            path = record.text("path") or str(record.source)
            if state == "unmatched" and record.text("capture") in unread:
                waiting.append(path)
            else:
                found.setdefault(state, []).append(path)
        if waiting:
            yield _of_unread(say, word, waiting)
        for state in ("unmatched", "doubly matched"):
            if paths := sorted(found.get(state, ())):
                told = twice and state == "doubly matched"
                yield _not_one(say, word, state, paths, told=told)
        if apart := found.get("not declared", ()):
            yield say.missing(
                "day",
                f"How {_counted(word, len(apart))} belong to readings is not declared.",
                "day.toml can say how they are joined.",
                needs="joining",
                measured=len(apart),
            )


def _counted(word: str, count: int) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _of_unread(say: Say, word: str, paths: list[str]) -> Finding:
    return say.missing(
        "day",
        f"{_counted(word, len(paths))} {'bears' if len(paths) == 1 else 'bear'} the identifier of a "
        "reading that could not be read: "
        f"{names(sorted(paths), listed=_LISTED)}.",
        "The maker can say how those rows are to be read.",
        needs="items_named",
        measured=len(paths),
        told_by="18",
    )


def _not_one(say: Say, word: str, state: str, paths: list[str], *, told: bool) -> Finding:
    one = len(paths) == 1
    why = {
        "unmatched": "belongs to no reading" if one else "belong to no reading",
        "doubly matched": "fits more than one reading" if one else "fit more than one reading",
    }[state]
    sentence = f"{_counted(word, len(paths))} {why}: {names(paths, listed=_LISTED)}."
    advice = f"The operator can say to which capture {'it belongs' if one else 'they belong'}."
    if told:
        return say.missing(
            "day", sentence, advice, needs="joining", measured=len(paths), told_by="18"
        )
    return say.query("day", sentence, advice, measured=len(paths), limit=0, source=SOURCE)
