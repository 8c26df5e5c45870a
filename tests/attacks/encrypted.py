"""Attacks on the encrypted pack: its headers, its one member, its ciphertext, what is inside."""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator

import pyzipper

from evidpack.container.aes_format import layout_for_size
from evidpack.container.aes_zip import encrypt_pack
from tests.attacks.attack import Attack
from tests.attacks.good import PASSPHRASE, SALT, Good, spread
from tests.bundles import put_together
from tests.container.archives import CENTRAL, END, LOCAL, Part, forged


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below; the passphrase given is the right one unless the name says otherwise."""
    yield from _headers(good)
    yield from _bytes(good)
    yield from _shapes(good)
    yield from _inside(good)


def _attack(kind: str, name: str, data: bytes, passphrase: str = PASSPHRASE) -> Attack:
    return Attack(
        family="encrypted", kind=kind, name=name, data=data, step=1, passphrase=passphrase
    )


def _headers(good: Good) -> Iterator[Attack]:
    kind = "a field of a header altered"
    data = good.encrypted
    layout = layout_for_size(len(good.pack))
    for where, start, fields in (
        ("local header", 0, LOCAL),
        ("central header", layout.central_at, CENTRAL),
        ("end record", len(data) - 22, END),
    ):
        at = start
        for name, width in fields:
            old = int.from_bytes(data[at : at + width], "little")
            for how, value in (
                ("lowest bit", old ^ 1),
                ("highest bit", old ^ (1 << 8 * width - 1)),
            ):
                changed = data[:at] + value.to_bytes(width, "little") + data[at + width :]
                yield _attack(kind, f"{where}, {name}, {how}", changed)
            at += width
    kind = "name or AES field altered"
    for where, start in (("local", 30), ("central", layout.central_at + 46)):
        for number in range(len(layout.local) - 30):
            at = start + number
            yield _attack(
                kind, f"{where} byte {number}", data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
            )


def _bytes(good: Good) -> Iterator[Attack]:
    data = good.encrypted
    layout = layout_for_size(len(good.pack))
    begins, ends = len(layout.local), layout.central_at
    kind = "salt, check bytes, ciphertext or authentication code altered"
    for at in (
        *range(begins, begins + 18),
        *(begins + 18 + at for at in spread(ends - begins - 28, 20)),
        *range(ends - 10, ends),
    ):
        yield _attack(
            kind, f"byte {at - begins}", data[:at] + bytes([data[at] ^ 0x20]) + data[at + 1 :]
        )
    yield _attack(
        kind,
        "two blocks exchanged",
        data[: begins + 18]
        + data[begins + 34 : begins + 50]
        + data[begins + 18 : begins + 34]
        + data[begins + 50 :],
    )
    kind = "another passphrase"
    for passphrase in ("ABCD-EFGH-JKLM-NPQR-STUV-WXYZ-2346", "2222-2222-2222-2222-2222-2222-2222"):
        yield _attack(kind, passphrase, data, passphrase)


def _shapes(good: Good) -> Iterator[Attack]:
    kind = "cut short, bytes around it, a second member, another form of encryption"
    data = good.encrypted
    layout = layout_for_size(len(good.pack))
    stored = data[len(layout.local) : layout.central_at]
    name = layout.local[30:-11]
    extra = layout.local[-11:]
    fields = {"version": 51, "flags": 0x0801, "method": 99, "crc": 0, "size": len(good.pack)}
    real = Part(
        name=name,
        data=stored,
        local=fields,
        central={**fields, "made_by": 0x0333},
        local_extra=extra,
        central_extra=extra,
    )
    plain = Part(name="readme.txt", data=b"read me first")
    for how, changed in {
        "one byte missing": data[:-1], "half": data[: len(data) // 2], "its first byte missing": data[1:],
        "a byte behind": data + b"\0", "a byte before": b"\0" + data, "itself behind": data + data,
        "a plain member behind": forged([real, plain]), "a plain member before": forged([plain, real]),
        "the member twice": forged([real, real]), "a comment": forged([real], end={"comment_length": 1}, suffix=b"x"),
        "the end record twice": data + data[-22:], "a gap before the directory": forged([real], before_directory=b"gap"),
        "ZIP64 without need": forged([real], end64={}, locator={}),
    }.items():  # fmt: skip
        yield _attack(kind, how, changed)
    for strength in (128, 192):
        yield _attack(
            kind, f"AES with {strength} bits", _by_library(good.pack, name.decode(), strength)
        )
    yield _attack(
        kind, "compressed inside", _by_library(good.pack, name.decode(), 256, pyzipper.ZIP_DEFLATED)
    )
    yield _attack(kind, "another name", _by_library(good.pack, "other.zip", 256))
    shorter = good.pack[:-1]
    moved = layout_for_size(len(shorter))
    yield _attack(
        kind,
        "a byte of ciphertext less, headers repaired",
        moved.local + stored[:-11] + stored[-10:] + moved.central + moved.end,
    )


def _by_library(pack: bytes, name: str, bits: int, method: int = pyzipper.ZIP_STORED) -> bytes:
    """The pack encrypted by a general library under the same passphrase."""
    stream = io.BytesIO()
    with pyzipper.AESZipFile(
        stream, "w", compression=method, encryption=pyzipper.WZ_AES
    ) as archive:
        archive.setencryption(pyzipper.WZ_AES, nbits=bits)
        archive.setpassword(PASSPHRASE.encode())
        archive.writestr(name, pack)
    return stream.getvalue()


def _inside(good: Good) -> Iterator[Attack]:
    """Well encrypted, and inside is no archive that can be read in one way."""
    kind = "well encrypted, and no strict archive inside"
    twice = io.BytesIO()
    encrypt_pack(
        io.BytesIO(good.encrypted), len(good.encrypted), twice, passphrase=PASSPHRASE, salt=SALT
    )
    for name, inner in {
        "nothing": b"", "a text": b"hello", "the encrypted pack again": good.encrypted, "a byte behind the pack": good.pack + b"\0",
        "a byte before the pack": b"\0" + good.pack, "two packs": good.pack + good.pack, "the pack cut short": good.pack[:-1],
        "an end record alone": struct.pack("<IHHHHIIH", 0x06054B50, 0, 0, 0, 0, 0, 0, 0),
        "a pack in another order": put_together(good.pack_top, dict(reversed(good.pack_members.items()))),
    }.items():  # fmt: skip
        target = io.BytesIO()
        encrypt_pack(io.BytesIO(inner), len(inner), target, passphrase=PASSPHRASE, salt=SALT)
        yield _attack(kind, name, target.getvalue())
    yield _attack(kind, "encrypted twice", twice.getvalue())
