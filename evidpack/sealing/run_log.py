"""The run log beside day.toml: each `check` adds one chained line, and the seal includes them all.

Trying rule sets until one passes leaves a trace.  Deleting the whole log is not detected, and
docs/threat-model.md says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from evidpack.errors import ProofError
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.digests import sha256
from evidpack.rules.ruleset import RuleSet

FILE_NAME = "runs.jsonl"


def append_run(
    folder: Path, *, at: datetime, rules: RuleSet, rules_sha256: bytes, findings: Iterable[Finding]
) -> int:
    """Add one line to the run log in `folder` and return its number, counted from 1.

    The line names the SHA-256 of the line before it (zeros for the first).  Raises ProofError
    where the last line present is not one of ours.
    """
    path = folder / FILE_NAME
    number, previous = _last(path)
    found = list(findings)
    counts = Counter(finding.outcome.value for finding in found)
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
        "adverse": sum(finding.adverse for finding in found),
    }
    with path.open("ab") as stream:
        stream.write(canonical_bytes(line) + b"\n")
    return number + 1


def _last(path: Path) -> tuple[int, bytes]:
    """Number and digest of the last line, or zeros where there is none."""
    if not path.exists():
        return 0, bytes(32)
    with path.open("rb") as stream:
        data = stream.read(MAX_DESCRIPTION_BYTES + 1)
    lines = data.split(b"\n")[:-1]
    if len(data) > MAX_DESCRIPTION_BYTES or not data.endswith(b"\n") or not lines:
        raise ProofError(
            "the run log is too large or its last line is incomplete",
            path=str(path),
            hint="Keep the file as it is under another name, beside day.toml, and check again.",
        )
    value = parse_canonical(lines[-1], path=str(path), line=len(lines))
    number = value.get("run") if isinstance(value, dict) else None
    if not isinstance(number, int):
        raise ProofError(
            "the last line of the run log has no number", path=str(path), line=len(lines)
        )
    return number, sha256(lines[-1])
