"""The continuing duty: findings of a later check of the day that a pack does not disclose yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.disclosure.finding_rules import is_marked
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes
from evidpack.verifying.pack import OpenedPack

_NAMING: Final = ("check", "subject", "outcome", "sentence")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pending:
    """A finding that may undermine or assist and that a pack does not show.

    `entry` and `became` are those of the sealed entry that says the same, None where the finding is
    new since the seal, or where no bundle was at hand to tell.
    """

    finding: Mapping[str, JsonValue]
    entry: int | None
    became: str | None


def not_yet_disclosed(
    pack: OpenedPack,
    findings: Iterable[Mapping[str, JsonValue]],
    *,
    bundle: SealedBundle | None = None,
) -> Sequence[Pending]:
    """Findings of a later check that may undermine or assist and that the pack does not show.

    `findings` are as `evidpack check --json` gives them.  A finding is the same where check, subject,
    outcome and sentence are; of one that the pack shows in part and without a bundle, as far as these
    are opened.
    """
    shown = [
        one
        for one in pack.contents.revealed
        if one.line.kind == "finding" and "check" in one.opened
    ]
    sealed = {} if bundle is None else _sealed(bundle)
    lines = pack.contents.lines
    revealed = {one.line.entry for one in shown}
    pending = []
    for finding in findings:
        entry = sealed.get(_name(finding))
        if bundle is None:
            disclosed = any(_agree(finding, one.opened) for one in shown)
        else:
            disclosed = entry in revealed
        if is_marked(finding) and not disclosed:
            became = None if entry is None else lines[entry].became.value
            pending.append(Pending(finding=finding, entry=entry, became=became))
    return pending


def _agree(finding: Mapping[str, JsonValue], opened: Mapping[str, JsonValue]) -> bool:
    return all(finding.get(name) == opened[name] for name in _NAMING if name in opened)


def _sealed(bundle: SealedBundle) -> Mapping[bytes, int]:
    """The numbers of the sealed findings by what they say."""
    return {_name(one.values): one.number for one in bundle.entries() if one.kind == "finding"}


def _name(values: Mapping[str, JsonValue]) -> bytes:
    return canonical_bytes([values.get(name) for name in _NAMING])
