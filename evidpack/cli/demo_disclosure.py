"""The demo's disclosure: decisions about one capture, its pack encrypted and plain, and the slip."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from evidpack.container.aes_zip import decrypt_pack
from evidpack.container.place import new_file
from evidpack.disclosure.decisions import format_ranges, load_decisions, parse_ranges
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.publishing import Publication, Published, publish
from evidpack.disclosure.sealed_bundle import SealedBundle, open_sealed_bundle
from evidpack.proof.disclosure_statement import EarlierVerification
from evidpack.sealing.order import Signer

CAPTURE: Final = "C024"
_CASE: Final = {
    "case": "Invented 24/0001",
    "recipient": "Invented Defence Office",
    "decided_by": "Ottoline Brackwater",
}
_TABLE: Final = re.compile(r"^\[\[(?:class|entry)\]\]\n(?:(?!\n\[\[).*\n?)*", re.MULTILINE)
_PROPOSED: Final = re.compile(r'^proposed = "(.*), (.*)"$', re.MULTILINE)
# The vehicle in the other lane, which nobody measured.
_OTHER_VEHICLE: Final = "boxes = [[760, 350, 145, 115]]"
_REDACT_STILL: Final = """
[[entry]]
entry = {entry}
use = "relied on"
decision = "redact"
reason = "concerns-capture"
description = "Still of the capture; another vehicle is blacked out"

[[redact]]
entry = {entry}
{boxes}
reason = "third-party"
"""
_REDACT_FINDING: Final = """
[[entry]]
entry = {entry}
use = "unused"
decision = "redact"
close = ["sentence", "measured", "limit"]
reason = "may-assist"
description = "A reading of another capture did not agree with its own pulse ranges"
"""


def disclose_demo(
    folder: Path,
    signer: Signer,
    *,
    decided_at: datetime,
    verification: EarlierVerification,
    time_stamp: Callable[[bytes], bytes],
) -> Published:
    """Write decisions.toml, pack.zip (encrypted), pack-open.zip and slip/pack-slip.* into `folder`."""
    path = folder / "bundle.zip"
    with path.open("rb") as stream:
        bundle = open_sealed_bundle(stream, path=str(path))
        text = _decided(bundle, decided_at)
        (folder / "decisions.toml").write_text(text, encoding="utf-8", newline="\n")
        (folder / "slip").mkdir()
        published = publish(
            bundle,
            load_decisions(text.encode(), path=str(folder / "decisions.toml")),
            Publication(
                bundle=path,
                signer=signer,
                output=folder / "pack.zip",
                slip=folder / "slip" / "pack-slip",
                now=decided_at + timedelta(minutes=30),
                random=secrets.token_bytes,
                time_stamp=time_stamp,
                verification=verification,
            ),
        )
    _open(folder, published)
    return published


def _open(folder: Path, published: Published) -> None:
    """The same pack, plain: a demonstration keeps what a real office would not."""
    with (folder / "pack.zip").open("rb") as stream, new_file(folder / "pack-open.zip") as plain:
        decrypt_pack(stream, plain.stream, passphrase=published.passphrase or "", path="pack.zip")
        plain.publish()


def _decided(bundle: SealedBundle, at: datetime) -> str:
    """The draft, decided as an office might: its proposals, and what they do not cover."""
    text = draft_decisions(bundle, [CAPTURE])
    for name, value in (_CASE | {"decided_at": at.isoformat()}).items():
        text = re.sub(rf'^{name} = "".*$', f'{name} = "{value}"', text, flags=re.MULTILINE)
    text = _TABLE.sub(_as_proposed, text)
    for entry in bundle.entries():
        if entry.kind == "file" and f"stills/{CAPTURE}_" in str(entry.values.get("path")):
            table = _REDACT_STILL.format(entry=entry.number, boxes=_OTHER_VEHICLE)
        elif entry.kind == "finding" and entry.values.get("outcome") == "query":
            table = _REDACT_FINDING.format(entry=entry.number)
        else:
            continue
        text = _without(text, entry.number) + table
    return text


def _as_proposed(table: re.Match[str]) -> str:
    proposed = _PROPOSED.search(table[0])
    if proposed is None:
        return table[0]
    text = table[0].replace('use = "undecided"', f'use = "{proposed[2]}"')
    return text.replace('decision = "undecided"', f'decision = "{proposed[1]}"')


def _without(text: str, entry: int) -> str:
    """The text without what it says of one entry."""
    text = re.sub(rf"\n\[\[entry\]\]\nentry = {entry}\n(?:[^\n]+\n)*", "\n", text)

    def less(found: re.Match[str]) -> str:
        numbers = [number for number in parse_ranges(found[1]) if number != entry]
        return f'entries = "{format_ranges(numbers)}"'

    return re.sub(r'^entries = "(.+)"$', less, text, flags=re.MULTILINE)
