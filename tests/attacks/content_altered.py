"""Content attacks by somebody without any key: every ZIP checksum and manifest is repaired, so that
the step that knows better is met."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Final

from evidpack.container import layout
from evidpack.container.bag import manifest
from tests.attacks.attack import Attack
from tests.attacks.good import Good, Members
from tests.bundles import put_together, rebuilt
from tests.verifying.test_tampering import CHANGES, MANIFESTS

_ADDED: Final = {
    "fetch.txt": 2, "manifest-sha512.txt": 2, "tagmanifest-md5.txt": 2, "manifest-sha256.txt.bak": 2,
    "seal/other.json": 4, "seal/statement2.json": 4, "data/export/added.txt": 4, "readme.html": 4,
    "data/office/added.toml": 4, "META-INF/manifest.xml": 4, "data/added": 4,
    "data/export/stills/C9_0009.jpg": 4,
}  # fmt: skip
_STEP: Final = {
    layout.LEDGER: 3, layout.STATEMENT: 5, layout.SIGNATURE: 5, layout.TOKEN: 7,
}  # fmt: skip


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    yield from _changed(good)
    yield from _unrepaired(good)
    yield from _added(good)
    yield from _manifests(good)
    yield from _information(good)


def _changed(good: Good) -> Iterator[Attack]:
    """Each file flipped, shortened, lengthened, deleted, renamed, doubled, swapped and emptied."""
    for change in (*CHANGES.values(), emptied, reversed_bytes):
        for name in good.members:
            if name in MANIFESTS:
                continue
            step = _STEP.get(name, 4)
            if change.__name__ in {"renamed", "deleted"} and name == layout.STATEMENT:
                step = 1
            if change.__name__ in {"renamed", "deleted"} and name == layout.OPENINGS:
                step = 3  # the ledger is walked along with its openings
            if change.__name__ == "doubled":
                step = 4
            yield Attack(
                family="content",
                kind=f"a file {change.__name__.replace('_', ' ')}, checksums and manifests repaired",
                name=name,
                data=rebuilt(good.top, change(good.members, name)),
                step=step,
                alone=False,
                trust=good.day.trust,
            )


def emptied(members: Members, name: str) -> Members:
    """The file without its bytes."""
    return members | {name: b""}


def reversed_bytes(members: Members, name: str) -> Members:
    """The file of the same size and the same bytes, in the other order."""
    return members | {name: members[name][::-1]}


def _unrepaired(good: Good) -> Iterator[Attack]:
    for name, data in good.members.items():
        if name == layout.STATEMENT:
            continue  # its checksum is looked at in step 1 already
        changed = bytearray(data)
        changed[len(data) // 3] ^= 0x10
        archive = good.day.bundle.replace(data, bytes(changed), 1)
        yield Attack(
            family="content",
            kind="a bit flipped and nothing repaired",
            name=name,
            data=archive,
            step=2,
            words=f"{name}: the bytes do not have the stated CRC-32",
            alone=False,
            trust=good.day.trust,
        )


def _added(good: Good) -> Iterator[Attack]:
    for name, step in _ADDED.items():
        yield Attack(
            family="content",
            kind="a file added, checksums and manifests repaired",
            name=name,
            data=rebuilt(good.top, good.members | {name: b"added\n"}),
            step=step,
            words=name,
            alone=False,
            trust=good.day.trust,
        )


def _manifests(good: Good) -> Iterator[Attack]:
    """A manifest that says something else, or the same in another way."""
    for name in (layout.MANIFEST, layout.TAG_MANIFEST):
        text = good.members[name]
        lines = text.splitlines(keepends=True)
        digest, rest = lines[0][:64], lines[0][64:]
        for how, changed in {
            "another digest": b"0" * 64 + rest + b"".join(lines[1:]),
            "digest in capitals": digest.upper() + rest + b"".join(lines[1:]),
            "digest too short": digest[:-1] + rest + b"".join(lines[1:]),
            "one space": digest + rest[1:] + b"".join(lines[1:]),
            "a star before the name": digest + b" *" + rest[2:] + b"".join(lines[1:]),
            "a line missing": b"".join(lines[1:]),
            "a line twice": lines[0] + text,
            "a line for no file": text + b"f" * 64 + b"  zzz.txt\n",
            "a line for a parent folder": text + b"f" * 64 + b"  ../zzz.txt\n",
            "a line for an absolute name": b"f" * 64 + b"  /etc/passwd\n" + text,
            "a line for the manifest itself": text + b"f" * 64 + b"  zz/" + name.encode() + b"\n",
            "lines in another order": b"".join(lines[::-1]),
            "carriage returns": text.replace(b"\n", b"\r\n"),
            "no last line feed": text[:-1],
            "an empty line": text + b"\n",
            "a comment": b"# a comment\n" + text,
            "a byte order mark": b"\xef\xbb\xbf" + text,
            "a byte that is not UTF-8": text[:-2] + b"\xff\n",
            "a NUL byte": text[:-2] + b"\0\n",
            "nothing": b"",
        }.items():
            members = good.members | {name: changed}
            if name == layout.MANIFEST:
                members = _tags_repaired(members)
            yield Attack(
                family="content",
                kind="a manifest forged",
                name=f"{name}: {how}",
                data=put_together(good.top, members),
                step=2,
                trust=good.day.trust,
            )


def _tags_repaired(members: Members) -> Members:
    """The tag manifest made right for a payload manifest that is not."""
    tags = {
        name: hashlib.sha256(data).digest()
        for name, data in members.items()
        if not name.startswith(layout.DATA) and name != layout.TAG_MANIFEST
    }
    return members | {layout.TAG_MANIFEST: manifest(tags)}


def _information(good: Good) -> Iterator[Attack]:
    text = good.members[layout.BAG_INFO]
    bagit = good.members[layout.BAGIT]
    for name, changed in {
        "another identifier": text.replace(b"SMALL", b"OTHER"),
        "another number of bytes": text.replace(b"Payload-Oxum: ", b"Payload-Oxum: 1"),
        "another number of files": text[:-1] + b"1\n",
        "no date": text.replace(b"Bagging-Date", b"Bagged-Date"),
        "a date that is none": text.replace(b"-05-14\nPay", b"-02-30\nPay"),
        "a further line": text + b"Contact-Name: Somebody\n",
        "another order": b"".join(text.splitlines(keepends=True)[::-1]),
        "a space more": text.replace(b": ", b":  ", 1),
        "a line folded": text.replace(b": ", b":\n ", 1),
        "small letters": text.lower(),
        "nothing": b"",
        "a megabyte": text + b"X: " + b"y" * 1_000_000 + b"\n",
    }.items():
        yield _of_bag(good, f"bag-info.txt: {name}", good.members | {layout.BAG_INFO: changed})
    for name, changed in {
        "version 0.97": bagit.replace(b"1.0", b"0.97"),
        "version 2": bagit.replace(b"1.0", b"2.0"),
        "another encoding": bagit.replace(b"UTF-8", b"UTF-16"),
        "another order": b"".join(bagit.splitlines(keepends=True)[::-1]),
        "a byte order mark": b"\xef\xbb\xbf" + bagit,
        "no last line feed": bagit[:-1],
        "nothing": b"",
    }.items():
        yield _of_bag(good, f"bagit.txt: {name}", good.members | {layout.BAGIT: changed})


def _of_bag(good: Good, name: str, members: Members) -> Attack:
    return Attack(
        family="content",
        kind="bagit.txt or bag-info.txt forged, the tag manifest repaired",
        name=name,
        data=put_together(good.top, _tags_repaired(members)),
        step=2,
        words=name.split(":", maxsplit=1)[0],
        trust=good.day.trust,
    )
