"""Packs of the small day in which one still is redacted."""

from __future__ import annotations

import io
from pathlib import Path

from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.pack import MadePack
from evidpack.disclosure.sealed_bundle import SealedBundle, open_sealed_bundle
from tests.disclosure.deciding import filled, with_entry
from tests.disclosure.packs import make
from tests.sealed_days import SealedDay

BOX = '[[redact]]\nentry = {entry}\nboxes = [[40, 2, 8, 4]]\nreason = "third-party"\n'


def still_of(bundle: SealedBundle, name: str) -> int:
    return next(
        entry.number
        for entry in bundle.entries()
        if entry.kind == "file" and str(entry.values["path"]).endswith(name)
    )


def redacted(
    day: SealedDay,
    path: Path,
    *,
    capture: str = "C1",
    name: str = "C1_0001.jpg",
    more: str = "",
    **changes: object,
) -> tuple[MadePack, bytes, int]:
    """A pack about a capture, its still redacted; `changes` go to the order."""
    bundle = open_sealed_bundle(io.BytesIO(day.bundle), path="b")
    number = still_of(bundle, name)
    text = filled(draft_decisions(bundle, [capture]))
    text = with_entry(
        text, number, 'use = "relied on"\ndecision = "redact"\nreason = "third-party"'
    )
    text += more or BOX.format(entry=number)
    made, pack = make(day, load_decisions(text.encode(), path="d"), path, bundle=bundle, **changes)
    return made, pack, number
