"""How the golden files that must be refused were made, each from a good one."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from io import BytesIO

from PIL import Image

from evidpack.container import layout
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.commitments import entry_line
from evidpack.proof.statement import SealStatement
from evidpack.trust.authority import DemoAuthority
from evidpack.trust.cms import sign_detached
from tests.bundles import in_order, put_together, rebuilt, taken_apart
from tests.disclosure.packs import repaired
from tests.disclosure.packs import resigned as pack_resigned
from tests.sealed_days import SEALED_AT, FixedKeys, make_authority, stamped
from tests.verifying.test_forgery import lines_of, recomputed, resigned, with_lines

Members = dict[str, bytes]
Change = Callable[[Members], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiled:
    """A file that must be refused: by which step, naming what, and what was done to it."""

    name: str
    of: str
    about: str
    step: int
    names: str
    data: bytes
    by_version: bool = False


def spoiled_bundles(of: str, good: bytes, other: bytes) -> Iterator[Spoiled]:
    """From a good bundle of the small day; `other` is another bundle of the same signer."""
    top, members = taken_apart(good)
    authority = make_authority()

    def one(name: str, step: int, names: str, about: str, data: bytes, **more: bool) -> Spoiled:
        return Spoiled(name=name, of=of, about=about, step=step, names=names, data=data, **more)

    def with_changes(*, repair: bool = True, **changes: bytes) -> bytes:
        changed = members | {_NAMES[name]: data for name, data in changes.items()}
        return rebuilt(top, changed) if repair else put_together(top, in_order(changed))

    readings = members[_NAMES["readings"]]
    yield one("prefix", 1, "central directory", "bytes before the archive", b"#!/bin/sh\n" + good)
    yield one("two-archives", 1, "central directory", "another bundle behind it", good + good)
    yield one("row", 2, "data/export/readings.csv", "a row changed, nothing repaired",
              with_changes(readings=readings.replace(b",41,", b",61,"), repair=False))  # fmt: skip
    yield one("unlisted", 2, "manifest-sha256.txt", "a file taken out of the manifest",
              with_changes(manifest=members[layout.MANIFEST].split(b"\n", 1)[1], repair=False))  # fmt: skip
    yield one("row-repaired", 4, "data/export/readings.csv",
              "a row changed, checksums and manifests repaired",
              with_changes(readings=readings.replace(b",41,", b",61,")))  # fmt: skip
    lines = members[layout.LEDGER].split(b"\n")
    lines[0], lines[1] = lines[1], lines[0]
    yield one("order", 3, layout.LEDGER, "two ledger lines swapped",
              with_changes(ledger=b"\n".join(lines)))  # fmt: skip
    earlier = members[layout.STATEMENT].replace(b"2026-05-14T18:00:00", b"2026-05-14T17:00:00")
    yield one("statement", 5, layout.SIGNATURE, "the claimed time set an hour back",
              with_changes(statement=earlier))  # fmt: skip
    stripped = {name: data for name, data in members.items() if name != layout.TOKEN}
    yield one("stripped", 7, layout.TOKEN, "the time stamp taken out", rebuilt(top, stripped))
    yield one("token", 7, layout.TOKEN, "the time stamp of another bundle",
              with_changes(token=taken_apart(other)[1][layout.TOKEN]))  # fmt: skip
    stranger = _stranger()
    yield one("stranger", 6, layout.SIGNATURE, "signed anew by a stranger in the same name",
              rebuilt(top, resigned(members, stranger)))  # fmt: skip
    yield one("finding", 8, "finding", "a failed check made to pass, by the holder of the key",
              rebuilt(top, _passed(members, authority)), by_version=True)  # fmt: skip
    yield one("future", 3, "version 2", "a seal statement of a version that does not exist yet",
              rebuilt(top, _future(members, authority)))  # fmt: skip


def spoiled_packs(of: str, good: bytes, redacted_of: str, redacted: bytes) -> Iterator[Spoiled]:
    """From good packs: changed by the discloser, who can sign anew, or by somebody who cannot."""
    authority = make_authority()

    def one(name: str, step: int, names: str, about: str, base: bytes, change: Change,
            of: str = of) -> Spoiled:  # fmt: skip
        _, members = taken_apart(base)
        change(members)
        return Spoiled(name=name, of=of, about=about, step=step, names=names,
                       data=pack_resigned(members, authority))  # fmt: skip

    yield one("accounting", 9, layout.DISCLOSURE_ACCOUNTING, "an entry left out of the accounting", good,
              lambda members: _edit(members, layout.DISCLOSURE_ACCOUNTING, lambda lines: lines[:-1]))  # fmt: skip
    yield one("leaf", 3, layout.DISCLOSURE_LEAVES, "a leaf of another entry", good,
              lambda members: _edit(members, layout.DISCLOSURE_LEAVES, lambda lines: [lines[1], *lines[1:]]))  # fmt: skip
    yield one("released", 4, "data/export/", "a released file changed", good, _change_a_file)
    yield one("copy", 4, "data/redacted/", "a redacted copy exchanged for another picture", redacted,
              _other_picture, of=redacted_of)  # fmt: skip
    _, members = taken_apart(good)
    statement = json.loads(members[layout.DISCLOSURE_STATEMENT])
    statement["recipient"] = "Another Invented Office"
    members[layout.DISCLOSURE_STATEMENT] = canonical_bytes(statement)
    yield Spoiled(
        name="recipient", of=of, about="another recipient, by somebody without the key", step=5,
        names=layout.DISCLOSURE_SIGNATURE, data=repaired(statement["pack"], members),
    )  # fmt: skip
    _, members = taken_apart(good)
    future = pack_resigned(members, authority, lambda said: said.update(version=2))
    yield Spoiled(
        name="pack-future", of=of, about="a disclosure statement of a version that does not exist yet",
        step=4, names="version 2", data=future,
    )  # fmt: skip


def spoiled_encrypted(of: str, good: bytes) -> Iterator[Spoiled]:
    """From the encrypted pack."""
    at = len(good) // 2
    flipped = good[:at] + bytes([good[at] ^ 1]) + good[at + 1 :]
    yield Spoiled(
        name="ciphertext", of=of, about="a bit of the ciphertext flipped", step=1,
        names="encrypted bytes", data=flipped,
    )  # fmt: skip


_NAMES = {
    "readings": "data/export/readings.csv",
    "manifest": layout.MANIFEST,
    "ledger": layout.LEDGER,
    "statement": layout.STATEMENT,
    "token": layout.TOKEN,
}


def _stranger() -> DemoAuthority:
    keys = FixedKeys()
    for _ in range(50):
        keys()
    return DemoAuthority.create(name="Test unit", now=SEALED_AT, key_source=keys)


def _passed(members: Members, authority: DemoAuthority) -> Members:
    """The first failed finding says pass, everything else made right again."""
    ledger, openings = lines_of(members)
    parsed = [json.loads(line) for line in openings]
    number = next(n for n, one in enumerate(parsed) if one["values"].get("outcome") == "fail")
    opening = parsed[number]
    opening["values"] |= {"outcome": "pass", "adverse": False}
    openings[number] = canonical_bytes(opening)
    ledger[number] = entry_line("finding", opening["values"], bytes.fromhex(opening["key"]))
    changed = with_lines(members, ledger, openings)

    def counted(statement: SealStatement) -> SealStatement:
        counts = dict(statement.findings)
        counts["fail"] -= 1
        counts["pass"] += 1
        return replace(recomputed(statement, ledger), findings=counts)

    return resigned(changed, authority, counted)


def _future(members: Members, authority: DemoAuthority) -> Members:
    """The statement with version 2, signed and stamped as it should be."""
    statement = json.loads(members[layout.STATEMENT])
    statement["version"] = 2
    content = canonical_bytes(statement)
    signature = sign_detached(
        content, key=authority.signer.key, certificate=authority.signer.certificate
    )
    return members | {
        layout.STATEMENT: content,
        layout.SIGNATURE: signature,
        layout.TOKEN: stamped(signature, authority),
    }


def _edit(members: Members, name: str, change: Callable[[list[bytes]], list[bytes]]) -> None:
    lines = members[name].splitlines(keepends=True)
    members[name] = b"".join(change(lines))


def _change_a_file(members: Members) -> None:
    name = next(name for name in members if name.startswith("data/export/"))
    members[name] = members[name][:-1] + b"#"


def _other_picture(members: Members) -> None:
    name = next(name for name in members if name.startswith("data/redacted/"))
    with Image.open(BytesIO(members[name])) as picture:
        size = picture.size
    out = BytesIO()
    Image.new("RGB", size, (128, 128, 128)).save(out, "PNG")
    members[name] = out.getvalue()
