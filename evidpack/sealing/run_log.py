"""The run log beside day.toml: each `check` adds one chained line, and the seal includes them all.

Trying rule sets until one passes leaves a trace, and so does what was put right before sealing: each
line says which adverse findings are new and which are gone.  Deleting the whole log is not detected,
and docs/threat-model.md says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, Final

from evidpack.container.appending import append, locked_log
from evidpack.errors import ProofError, UsageError
from evidpack.intake.run_history import RunHistory, SaidFinding, changes
from evidpack.intake.run_log import read_runs
from evidpack.limits import MAX_RUN_LOG_BYTES, MIB
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.digests import sha256
from evidpack.rules.ruleset import RuleSet

FILE_NAME: Final = "runs.jsonl"
_ROOM_BYTES: Final = 1 * MIB  # for either list of findings, well below what a ledger line holds
_SHOWN_BYTES: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedRun:
    """The number of the line that was added, from 1, and whether the one before was cut short."""

    number: int
    after_torn_line: bool


def append_run(
    folder: Path, *, at: datetime, rules: RuleSet, rules_sha256: bytes, findings: Iterable[Finding]
) -> AddedRun:
    """Add one line to the run log in `folder`, synced; one process at a time.

    The line names the SHA-256 of the line before it (zeros for the first), and the adverse findings
    that the run before did not have or that are gone.  A last line that was cut short, by a power
    cut say, stays as it is, ended by a line feed: the seal then holds it as a line that could not be
    read.

    Raises UsageError where the log cannot be written; ProofError where its last whole line is not
    one of ours, or it has no room.  Then the log is as it was.
    """
    path = folder / FILE_NAME
    found = list(findings)
    try:
        with locked_log(path, create=True, mode=0o644) as stream:
            data = _read(stream)
            last = _last(data, path)
            line = _line(
                last, _changes(data, found, path),
                at=at, rules=rules, rules_sha256=rules_sha256, findings=found,
            )  # fmt: skip
            added = (b"" if last.ended else b"\n") + line + b"\n"
            if len(data) + len(added) > MAX_RUN_LOG_BYTES:
                raise _no_room(path)
            append(stream, path, added)
    except OSError as error:
        raise UsageError(
            f"the run log cannot be read or written: {error.strerror or error}",
            path=str(path),
            hint="Each run is recorded beside day.toml, so day.toml and its unit folder must lie "
            "on a disk that you may write to and that has room. The export may stay where it is.",
        ) from error
    return AddedRun(number=last.number + 1, after_torn_line=last.torn)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Last:
    """The last line there is: digest, number of the last whole run, how it ends."""

    number: int = 0
    digest: bytes = bytes(32)
    ended: bool = True
    torn: bool = False


def _line(
    last: _Last,
    changed: dict[str, JsonValue],
    *,
    at: datetime,
    rules: RuleSet,
    rules_sha256: bytes,
    findings: Sequence[Finding],
) -> bytes:
    counts = Counter(finding.outcome.value for finding in findings)
    line: JsonValue = {
        "run": last.number + 1,
        "previous": last.digest.hex(),
        "at": at.isoformat(),
        "rule_set": {
            "name": rules.name,
            "edition": rules.edition,
            "sha256": rules_sha256.hex(),
        },
        "counts": {outcome.value: counts[outcome.value] for outcome in Outcome},
        "adverse": sum(finding.adverse for finding in findings),
        **changed,
    }
    return canonical_bytes(line)


def _changes(data: bytes, findings: Sequence[Finding], path: Path) -> dict[str, JsonValue]:
    """What is new and what is gone against the runs before, and how much had no room."""
    history = RunHistory()
    for _ in read_runs(data, history, path=str(path)):
        pass
    adverse = [SaidFinding.of(finding) for finding in findings if finding.adverse]
    told, gone_now = changes(history.standing, adverse)
    new, gone = _fitting(told), _fitting(gone_now)
    return {
        "new": [*new],
        "gone": [*gone],
        "left_out": len(told) - len(new) + len(gone_now) - len(gone),
    }


def _fitting(findings: Sequence[SaidFinding]) -> list[dict[str, JsonValue]]:
    """As many of the findings, from the first, as a line has room for."""
    kept: list[dict[str, JsonValue]] = []
    room = _ROOM_BYTES
    for finding in findings:
        room -= len(canonical_bytes(finding.to_json())) + 1
        if room < 0:
            break
        kept.append(finding.to_json())
    return kept


def _read(stream: BinaryIO) -> bytes:
    """All of an unbuffered stream, up to one byte more than the log may have."""
    pieces, left = [], MAX_RUN_LOG_BYTES + 1
    while left and (piece := stream.read(left)):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)


def _no_room(path: Path) -> ProofError:
    return ProofError(
        "the run log has no room for another run",
        path=str(path),
        expected=f"at most {MAX_RUN_LOG_BYTES} bytes",
        observed="more",
        hint="Seal the day with it. Keep it as it is under another name, beside day.toml, and check "
        "again.",
    )


def _last(data: bytes, path: Path) -> _Last:
    """Raises ProofError where the last line is whole and is not one of ours."""
    *lines, rest = data.split(b"\n")
    if rest:
        number = _number(rest)
        torn = number is None
        if number is None:
            number = next((n for line in reversed(lines) if (n := _number(line)) is not None), 0)
        return _Last(number=number, digest=sha256(rest), ended=False, torn=torn)
    if not lines:
        return _Last()
    number = _number(lines[-1])
    if number is None:
        raise ProofError(
            "the last line of the run log is not one that a run of the checks adds",
            path=str(path),
            line=len(lines),
            expected="canonical JSON with a run's number",
            observed=lines[-1][:_SHOWN_BYTES].decode("utf-8", "backslashreplace"),
            hint="Keep a copy of the file. Take that line out, and say in notes.toml that you did.",
        )
    return _Last(number=number, digest=sha256(lines[-1]))


def _number(line: bytes) -> int | None:
    """The number of the run that a line records, None where it is no such line."""
    try:
        value = parse_canonical(line, path=FILE_NAME)
    except ProofError:
        return None
    number = value.get("run") if isinstance(value, dict) else None
    return number if isinstance(number, int) and number > 0 else None
