"""Proposing to close the fields that name what is proposed to be withheld.

A report record names the scanned report, a finding names a file or quotes a speed: released as they
are, such fields would be refused when the pack is made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from evidpack.disclosure.leakage import Shown, find_leaks
from evidpack.disclosure.proposal import Proposal
from evidpack.disclosure.sealed_bundle import SealedBundle


def closing_names_of_withheld(
    bundle: SealedBundle, proposals: Mapping[int, Proposal]
) -> Mapping[int, Proposal]:
    """Other proposals for those records and findings that name what is proposed to be withheld:
    redact instead of release. What is undecided counts as proposed."""
    shown = [
        Shown(
            number=entry.number,
            kind=entry.kind,
            values=entry.values,
            closed=proposals[entry.number].close,
        )
        for entry in bundle.entries()
        if proposals[entry.number].what in ("release", "redact")
    ]
    inspected = [number for number, one in proposals.items() if one.what == "inspect"]
    fields: dict[int, set[str]] = {}
    for leak in find_leaks(bundle.entries(), shown, inspected, ()):
        if leak.field is not None and leak.entry is not None and leak.kind != "file":
            fields.setdefault(leak.entry, set()).add(leak.field)
    return {
        number: replace(
            proposals[number],
            what="redact",
            reason=proposals[number].reason if proposals[number].marked else "names-withheld",
            close=tuple(sorted(names.union(proposals[number].close))),
        )
        for number, names in fields.items()
    }
