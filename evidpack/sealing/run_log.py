"""The run log beside day.toml: each `check` adds one chained line, and the seal includes them all.

Trying rule sets until one passes leaves a trace, and so does what was put right before sealing: each
line says which adverse findings are new and which are gone.  Deleting the whole log is not detected,
and docs/threat-model.md says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from evidpack.errors import ProofError
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
_KEEP: Final = "Keep the file as it is under another name, beside day.toml, and check again."


def append_run(
    folder: Path, *, at: datetime, rules: RuleSet, rules_sha256: bytes, findings: Iterable[Finding]
) -> int:
    """Add one line to the run log in `folder` and return its number, counted from 1.

    The line names the SHA-256 of the line before it (zeros for the first), and the adverse findings
    that the run before did not have or that are gone.  Raises ProofError where the last line present
    is not one of ours, or the log has no room.
    """
    path = folder / FILE_NAME
    data = _present(path)
    number, previous = _last(data, path)
    found = list(findings)
    counts = Counter(finding.outcome.value for finding in found)
    history = RunHistory()
    for _ in read_runs(data, history, path=str(path)):
        pass
    adverse = [SaidFinding.of(finding) for finding in found if finding.adverse]
    told, gone_now = changes(history.standing, adverse)
    new, gone = _fitting(told), _fitting(gone_now)
    line: JsonValue = {
        "run": number + 1,
        "previous": previous.hex(),
        "at": at.isoformat(),
        "rule_set": {
            "name": rules.name,
            "edition": rules.edition,
            "sha256": rules_sha256.hex(),
        },
        "counts": {outcome.value: counts[outcome.value] for outcome in Outcome},
        "adverse": len(adverse),
        "new": [*new],
        "gone": [*gone],
        "left_out": len(told) - len(new) + len(gone_now) - len(gone),
    }
    written = canonical_bytes(line) + b"\n"
    if len(data) + len(written) > MAX_RUN_LOG_BYTES:
        raise ProofError("the run log has no room for another run", path=str(path), hint=_KEEP)
    with path.open("ab") as stream:
        stream.write(written)
    return number + 1


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


def _present(path: Path) -> bytes:
    """The log as it stands. Raises ProofError where it is too large or breaks off."""
    if not path.exists():
        return b""
    with path.open("rb") as stream:
        data = stream.read(MAX_RUN_LOG_BYTES + 1)
    if len(data) > MAX_RUN_LOG_BYTES or not data.endswith(b"\n") or data == b"\n":
        raise ProofError(
            "the run log is too large or its last line is incomplete", path=str(path), hint=_KEEP
        )
    return data


def _last(data: bytes, path: Path) -> tuple[int, bytes]:
    """Number and digest of the last line, or zeros where there is none."""
    if not data:
        return 0, bytes(32)
    lines = data.split(b"\n")[:-1]
    value = parse_canonical(lines[-1], path=str(path), line=len(lines))
    number = value.get("run") if isinstance(value, dict) else None
    if not isinstance(number, int):
        raise ProofError(
            "the last line of the run log has no number", path=str(path), line=len(lines)
        )
    return number, sha256(lines[-1])
