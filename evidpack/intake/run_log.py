"""Reads the run log: earlier runs of the checks, each line chained to the one before.

A line is canonical JSON: {"adverse", "at", "counts", "gone", "left_out", "new", "previous",
"rule_set", "run"}; `previous` is the SHA-256 of the line before it without its line feed, zeros for
the first. `new` and `gone` are lists of {"check", "outcome", "sentence", "subject"} against the run
before, `left_out` counts adverse findings for which a line had no room; lines of an older form have
none of these three.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from typing import Any, BinaryIO, Final

from evidpack.intake.dates import RFC3339, CellError, compile_time
from evidpack.intake.run_history import KEYS, RunHistory, SaidFinding
from evidpack.intake.text_lines import fault_of
from evidpack.intake.unreadable import unreadable
from evidpack.intake.zones import resolve
from evidpack.limits import MAX_LEDGER_LINE_BYTES, MAX_RUN_LOG_BYTES, MAX_SAFE_INTEGER
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue

FIRST_PREVIOUS: Final = "0" * 64

_KEYS: Final = {"run", "previous", "at", "rule_set", "counts", "adverse"}
_CHANGE_KEYS: Final = {"new", "gone", "left_out"}
_MAX_TEXT_CHARACTERS: Final = 65_536
_RULE_SET_KEYS: Final = {"name", "edition", "sha256"}
_DIGEST: Final = re.compile(r"[0-9a-f]{64}", re.ASCII)


class _RunError(ValueError):
    """A line that is no run; the message says why."""


def read_past_runs(stream: BinaryIO, *, path: str) -> Iterator[Record]:
    """A record of each line: a past run, or unreadable with the reason; then one of each adverse
    finding that any of the runs had, with the numbers of those runs.
    """
    history = RunHistory()
    yield from read_runs(stream.read(MAX_RUN_LOG_BYTES + 1), history, path=path)
    yield from history.records()


def read_runs(data: bytes, history: RunHistory, *, path: str) -> Iterator[Record]:
    """A record of each line of a run log, told to `history` on the way."""
    before, number = FIRST_PREVIOUS, 0
    for line_number, line in enumerate(data.split(b"\n"), start=1):
        if not line:
            continue
        source = Source(path=path, line=line_number)
        try:
            run = _run(line)
            values = _values(run)
            new, gone = _changes(run)
        except _RunError as error:
            yield unreadable(
                source,
                reason=str(error),
                record=RecordKind.PAST_RUN.value,
                excerpt=line.decode("utf-8", "surrogateescape"),
            )
        else:
            holds = values["previous"] == before and values["run"] == number + 1
            number = int(str(values["run"]))
            if new is not None and gone is not None:
                history.tell(number, source, new=new, gone=gone)
                values |= {"new": len(new), "gone": len(gone), "left_out": run["left_out"]}
            yield Record(
                kind=RecordKind.PAST_RUN,
                source=source,
                values={**values, "chain": "holds" if holds else "broken"},
            )
        before = hashlib.sha256(line).hexdigest()


def _run(line: bytes) -> dict[str, Any]:
    if len(line) > MAX_LEDGER_LINE_BYTES:
        raise _RunError("the line is too long")
    try:
        run = json.loads(line.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise _RunError("the line is not JSON") from error
    if not isinstance(run, dict) or set(run) not in (_KEYS, _KEYS | _CHANGE_KEYS):
        raise _RunError(f"a run has the keys {', '.join(sorted(_KEYS | _CHANGE_KEYS))}")
    return run


def _values(run: dict[str, Any]) -> dict[str, JsonValue]:
    rules = run["rule_set"]
    if not isinstance(rules, dict) or set(rules) != _RULE_SET_KEYS:
        raise _RunError(f"a rule set has the keys {', '.join(sorted(_RULE_SET_KEYS))}")
    return {
        "run": _count(run["run"]),
        "previous": _digest(run["previous"]),
        "at": _time(run["at"]),
        "rule_set_name": _text(rules["name"]),
        "rule_set_edition": _text(rules["edition"]),
        "rule_set_sha256": _digest(rules["sha256"]),
        "counts": _counts(run["counts"]),
        "adverse": _count(run["adverse"]),
    }


def _changes(
    run: dict[str, Any],
) -> tuple[list[SaidFinding], list[SaidFinding]] | tuple[None, None]:
    """The findings that are new and gone, or None for a line of the older form."""
    if "new" not in run:
        return None, None
    _count(run["left_out"])
    return _findings(run["new"]), _findings(run["gone"])


def _findings(value: Any) -> list[SaidFinding]:
    if not isinstance(value, list):
        raise _RunError("new and gone are lists of findings")
    found = []
    for one in value:
        if not isinstance(one, dict) or set(one) != set(KEYS):
            raise _RunError(f"a finding has the keys {', '.join(sorted(KEYS))}")
        if any(len(str(text)) > _MAX_TEXT_CHARACTERS for text in one.values()):
            raise _RunError("a text of a finding is too long")
        found.append(SaidFinding(**{name: _text(text) for name, text in one.items()}))
    return found


def _count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MAX_SAFE_INTEGER:
        raise _RunError("a count is a whole number from 0")
    return value


def _counts(value: Any) -> JsonValue:
    if not isinstance(value, dict) or len(value) > 64:
        raise _RunError("counts is an object of whole numbers")
    return {_text(name): _count(count) for name, count in value.items()}


def _text(value: Any) -> str:
    if not isinstance(value, str) or fault_of(value) is not None:
        raise _RunError("a text is missing or holds characters that are none")
    return value


def _digest(value: Any) -> str:
    if not isinstance(value, str) or not _DIGEST.fullmatch(value):
        raise _RunError("a digest is 64 lower-case hexadecimal digits")
    return value


def _time(value: Any) -> JsonValue:
    try:
        stamp = compile_time(RFC3339, lambda local: resolve(local, None))(_text(value))
    except CellError as error:
        raise _RunError(str(error)) from error
    if stamp.determined is None:
        raise _RunError("the time of a run needs an offset")
    return stamp.to_json()
