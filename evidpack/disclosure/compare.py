"""What a later issue of a pack adds, changes or withdraws."""

from __future__ import annotations

from dataclasses import dataclass, replace

from evidpack.errors import UsageError
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import REVEALED, AccountingLine, Became
from evidpack.proof.digests import sha256
from evidpack.verifying.pack import OpenedPack


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One entry that stands otherwise in the later issue. `how` is ``added``, ``withdrawn``,
    ``newly redacted``, ``opened further`` or ``said otherwise``."""

    how: str
    entry: int
    exhibit: int | None
    description: str
    detail: str

    def to_json(self) -> dict[str, JsonValue]:
        """The change for machines."""
        return {
            "how": self.how,
            "entry": self.entry,
            "exhibit": self.exhibit,
            "description": self.description,
            "detail": self.detail,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What became other from one issue to another. `follows` says whether the later one names the
    earlier as the issue before it, `same` whether both are one and the same."""

    earlier_issue: int
    later_issue: int
    follows: bool
    same: bool
    changes: tuple[Change, ...]
    unchanged: int


def compare_packs(earlier: OpenedPack, later: OpenedPack) -> Comparison:
    """Compare two packs whose accounting holds.

    Raises UsageError where they are of different seals, cases or recipients, or in the wrong order.
    """
    first, second = earlier.required_statement(), later.required_statement()
    _require_comparable(earlier, later)
    pairs = zip(earlier.contents.lines, later.contents.lines, strict=True)
    changes = [
        # Whoever compares has the earlier issue, and may be told what it was that is withdrawn.
        replace(change, description=old.description or "") if change.how == "withdrawn" else change
        for old, new in pairs
        if (change := change_between(old, new)) is not None
    ]
    return Comparison(
        earlier_issue=first.issue,
        later_issue=second.issue,
        same=earlier.statement_bytes == later.statement_bytes,
        follows=second.previous == sha256(earlier.statement_bytes),
        changes=tuple(changes),
        unchanged=len(later.contents.lines) - len(changes),
    )


def _require_comparable(earlier: OpenedPack, later: OpenedPack) -> None:
    """Two issues for the same seal, case and recipient, the earlier first."""
    first, second = earlier.required_statement(), later.required_statement()
    for what, one, other in (
        ("seal", first.origin.hex(), second.origin.hex()),
        ("case", first.case, second.case),
        ("recipient", first.recipient, second.recipient),
    ):
        if one != other:
            raise UsageError(
                f"the packs are of different {what}s, so there is nothing to compare",
                path=later.archive.path,
                expected=one,
                observed=other,
            )
    if first.issue > second.issue:
        raise UsageError(
            "the first pack is the later issue",
            path=earlier.archive.path,
            expected="the earlier issue first",
            observed=f"issue {first.issue}, then issue {second.issue}",
        )


def change_between(old: AccountingLine, new: AccountingLine) -> Change | None:
    """What became other of one entry between two issues; None where nothing did."""
    if old == new:
        return None
    if old.became in REVEALED and new.became not in REVEALED:
        how, detail = "withdrawn", f"{old.became.value} before. {new.reason}"
    elif new.became in REVEALED and old.became not in REVEALED:
        how, detail = "added", f"{old.became.value}, now {new.became.value}"
    elif new.became is Became.REDACTED and set(new.closed) - set(old.closed):
        closed = ", ".join(sorted(set(new.closed) - set(old.closed)))
        how, detail = "newly redacted", f"closed now: {closed}"
        if new.kind == "file":
            detail = f"a copy, blacked out in part, in place of the original; {detail}"
    elif set(old.closed) - set(new.closed):
        opened = ", ".join(sorted(set(old.closed) - set(new.closed)))
        how, detail = "opened further", f"opened now: {opened}"
    elif old.exhibit is None:
        how, detail = "added", f"listed now as {new.became.value}"
    else:
        how, detail = "said otherwise", _otherwise(old, new)
    return Change(
        how=how,
        entry=new.entry,
        exhibit=new.exhibit,
        description=new.description or "",
        detail=detail,
    )


def _otherwise(old: AccountingLine, new: AccountingLine) -> str:
    pairs = (
        ("use", old.use, new.use),
        ("reason", old.reason, new.reason),
        ("description", old.description, new.description),
        ("exhibit", old.exhibit, new.exhibit),
        ("outcome", old.became.value, new.became.value),
    )
    return "; ".join(f"{name}: {was} → {now}" for name, was, now in pairs if was != now)
