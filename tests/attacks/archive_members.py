"""Archive attacks on single members: extra fields, compression, descriptors, names that stand twice."""

from __future__ import annotations

import bz2
import dataclasses
import io
import lzma
import struct
import zipfile
import zlib
from collections.abc import Iterator

from tests.attacks.archive_shapes import attack_of, with_part
from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.container.archives import forged

_UNICODE_PATH = b"\x01" + zlib.crc32(b"x").to_bytes(4, "little") + b"other/name.txt"
_EXTRA_FIELDS = {
    "another name (0x7075)": (0x7075, _UNICODE_PATH),
    "another comment (0x6375)": (0x6375, b"\x01\x00\x00\x00\x00words"),
    "times (0x5455)": (0x5455, b"\x01\x00\x00\x00\x00"),
    "owner (0x7875)": (0x7875, b"\x01\x04\x00\x00\x00\x00\x04\x00\x00\x00\x00"),
    "Windows times (0x000a)": (0x000A, bytes(4) + b"\x01\x00\x18\x00" + bytes(24)),
    "a link's target (0x756e)": (0x756E, b"\0\0\0\0\xff\xa1\x05\0\0\0\0\0\0\0/root"),
    "encryption (0x9901)": (0x9901, b"\x02\x00AE\x03\x00\x00"),
    "strong encryption (0x0017)": (0x0017, bytes(8)),
    "ZIP64 without need (0x0001)": (0x0001, bytes(16)),
    "ZIP64, empty (0x0001)": (0x0001, b""),
    "a JAR's mark (0xcafe)": (0xCAFE, b""),
}


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    yield from _extra_fields(good)
    yield from _compressed(good)
    yield from _descriptors(good)
    yield from _doubled(good)


def _extra_fields(good: Good) -> Iterator[Attack]:
    for name, (identifier, content) in _EXTRA_FIELDS.items():
        extra = struct.pack("<HH", identifier, len(content)) + content
        for where, changes in {
            "in the local header": {"local_extra": extra},
            "in the central header": {"central_extra": extra},
            "in both headers": {"local_extra": extra, "central_extra": extra},
        }.items():
            data = forged(with_part(good, 2, **changes))
            yield attack_of("an extra field", f"{name} {where}", data)
    for name, extra in {
        "one byte": b"\0",
        "three bytes": b"\1\0\0",
        "a length beyond its end": struct.pack("<HH", 1, 200),
    }.items():
        for where in ("local_extra", "central_extra"):
            yield attack_of(
                "an extra field",
                f"{name} as {where}",
                forged(with_part(good, 2, **{where: extra})),
            )
    yield attack_of(
        "an extra field",
        "a member's comment",
        forged(with_part(good, 2, central={"comment_length": 5}, central_tail=b"words")),
    )


def _compressed(good: Good) -> Iterator[Attack]:
    kind = "members compressed or encrypted"
    for number, data in ((2, good.parts[2].data), (10, good.parts[10].data)):
        deflater = zlib.compressobj(9, zlib.DEFLATED, -15)
        for method, name, packed in (
            (8, "deflate", deflater.compress(data) + deflater.flush()),
            (12, "bzip2", bz2.compress(data)),
            (14, "LZMA", b"\x09\x04\x05\x00" + lzma.compress(data)[:]),
        ):
            stated = {
                "method": method,
                "stored": len(packed),
                "size": len(data),
                "crc": zlib.crc32(data),
            }
            yield attack_of(
                kind,
                f"member {number} by {name}",
                forged(with_part(good, number, data=packed, local=stated, central=stated)),
            )
        for name, stated in {
            "flag of encryption": {"flags": 0x0801},
            "flag of strong encryption": {"flags": 0x0841},
            "flag of masked headers": {"flags": 0x2800},
            "method of AES": {"method": 99, "flags": 0x0801},
            "names not in UTF-8": {"flags": 0},
            "flag of patch data": {"flags": 0x0820},
        }.items():
            yield attack_of(
                kind,
                f"member {number} with {name}",
                forged(with_part(good, number, local=stated, central=stated)),
            )
    for method in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", method) as archive:
            for name, data in good.members.items():
                archive.writestr(f"{good.top}/{name}", data)
        yield attack_of(
            kind, f"zipped again by a general library, method {method}", stream.getvalue()
        )
    for size in (1_000_000, 50_000_000):
        deflater = zlib.compressobj(9, zlib.DEFLATED, -15)
        packed = deflater.compress(bytes(size)) + deflater.flush()
        stated = {"method": 8, "stored": len(packed), "size": size, "crc": zlib.crc32(bytes(size))}
        yield attack_of(
            kind,
            f"{len(packed)} bytes that inflate to {size}",
            forged(with_part(good, 2, data=packed, local=stated, central=stated)),
        )


def _descriptors(good: Good) -> Iterator[Attack]:
    kind = "data descriptors"
    for number in (0, 2, 10):
        part = good.parts[number]
        values = struct.pack("<III", zlib.crc32(part.data), len(part.data), len(part.data))
        for name, descriptor in {"with": b"PK\x07\x08" + values, "without": values}.items():
            for how, local in {
                "sizes in the header too": {"flags": 0x0808},
                "sizes in the descriptor alone": {
                    "flags": 0x0808,
                    "crc": 0,
                    "stored": 0,
                    "size": 0,
                },
            }.items():
                yield attack_of(
                    kind,
                    f"member {number}, {name} signature, {how}",
                    forged(
                        with_part(
                            good, number, local=local, central={"flags": 0x0808}, after=descriptor
                        )
                    ),
                )


def _doubled(good: Good) -> Iterator[Attack]:
    kind = "a name twice, or two names that some system takes for one"
    found = good.parts
    for number in (0, 4, 12):
        yield attack_of(
            kind,
            f"member {number} twice, byte for byte",
            forged([*found[: number + 1], *found[number:]]),
        )
        other = dataclasses.replace(found[number], data=b"other bytes")
        yield attack_of(
            kind, f"member {number} twice, with other bytes last", forged([*found, other])
        )
        yield attack_of(
            kind, f"member {number} twice, with other bytes first", forged([other, *found])
        )
        raw = found[number].raw
        head, tail = raw[: len(good.top) + 1], raw[len(good.top) + 1 :]
        for name, twin in {"upper case": tail.upper(), "title case": tail.title()}.items():
            yield attack_of(
                kind,
                f"member {number} and the same in {name}",
                forged([*found, dataclasses.replace(found[number], name=head + twin)]),
            )
    count = len(found)
    for number in (0, 5):
        order = [*range(count), number]
        yield attack_of(kind, f"central header {number} twice", forged(found, order=order))
