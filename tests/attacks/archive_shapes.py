"""Archive attacks on the whole: what one program reads and another does not."""

from __future__ import annotations

import dataclasses
import struct
import zlib
from collections.abc import Iterator

from tests.attacks.attack import Attack
from tests.attacks.good import Good, spread
from tests.bundles import put_together
from tests.container.archives import TOP, Part, forged, parts
from tests.container.archives import written as written_archive


def attacks(good: Good) -> Iterator[Attack]:
    """Every shape below."""
    yield from _cut(good)
    yield from _around(good)
    yield from _between(good)
    yield from _ordered(good)
    yield from _zip64(good)
    yield from _checksums(good)


def attack_of(kind: str, name: str, data: bytes, step: int = 1, words: str = "") -> Attack:
    """An archive attack on which the step and its words are the whole of it."""
    return Attack(family="archive", kind=kind, name=name, data=data, step=step, words=words)


def with_part(good: Good, number: int, **changes: object) -> list[Part]:
    """The bundle's members, with something else about one of them."""
    found = good.parts
    found[number] = dataclasses.replace(found[number], **changes)  # type: ignore[arg-type]
    return found


def _cut(good: Good) -> Iterator[Attack]:
    data = good.day.bundle
    for length in spread(len(data), 24):
        yield attack_of("cut short", f"the first {length} bytes of {len(data)}", data[:length])
    for count in (1, 4, 30, 1000):
        yield attack_of("cut short", f"the first {count} bytes missing", data[count:])


def _around(good: Good) -> Iterator[Attack]:
    kind = "bytes before, behind or around the archive"
    data = good.day.bundle
    other = written_archive()
    for name, changed in {
        "a program before it": b"#!/bin/sh\nexit 0\n" + data,
        "one byte before it": b"\0" + data,
        "a PDF header before it": b"%PDF-1.7\n" + data,
        "another archive before it": other + data,
        "another archive behind it": data + other,
        "one byte behind it": data + b"\0",
        "a line feed behind it": data + b"\n",
        "zeros behind it": data + bytes(4096),
        "the same archive behind it": data + data,
        "a second end record behind it": data + data[-22:],
        "a comment": forged(good.parts, end={"comment_length": 5}, suffix=b"words"),
        "another archive as its comment": forged(
            good.parts, end={"comment_length": len(other)}, suffix=other
        ),
        "an end record as its comment": forged(
            good.parts, end={"comment_length": 22}, suffix=data[-22:]
        ),
        "a comment that is announced alone": forged(good.parts, end={"comment_length": 3}),
        "positions moved behind a prefix": forged(good.parts, prefix=b"MZ" * 8),
        "junk before the directory": forged(good.parts, before_directory=b"junk"),
        "junk behind the directory": forged(good.parts, after_directory=b"junk"),
        "a digital signature record": forged(
            good.parts, after_directory=struct.pack("<IH", 0x05054B50, 4) + b"sign"
        ),
        "an archive extra data record": forged(
            good.parts, before_directory=struct.pack("<II", 0x08064B50, 4) + b"data"
        ),
    }.items():
        yield attack_of(kind, name, changed)


def _between(good: Good) -> Iterator[Attack]:
    kind = "a gap, an overlap, or a member that only one list shows"
    last = len(good.parts) - 1
    for number in (0, last // 2, last):
        yield attack_of(
            kind, f"a gap before member {number}", forged(with_part(good, number, before=b"gap"))
        )
        yield attack_of(
            kind, f"a gap behind member {number}", forged(with_part(good, number, after=b"\0"))
        )
        yield attack_of(
            kind,
            f"member {number} in local headers alone",
            forged(with_part(good, number, hide_central=True)),
        )
        yield attack_of(
            kind,
            f"member {number} in the directory alone",
            forged(with_part(good, number, hide_local=True)),
        )
        hidden = Part(name=f"{good.top}/data/export/notes2.txt", data=b"hidden")
        found = good.parts
        nested = zlib_free_archive(hidden)
        found[number] = dataclasses.replace(found[number], after=nested)
        yield attack_of(kind, f"a whole local member hidden behind member {number}", forged(found))
        size = len(good.parts[number].data)
        yield attack_of(
            kind,
            f"member {number} reaches one byte into the next",
            forged(
                with_part(
                    good,
                    number,
                    local={"size": size + 1, "stored": size + 1},
                    central={"size": size + 1, "stored": size + 1},
                )
            ),
        )
        if size:
            yield attack_of(
                kind,
                f"member {number} one byte short of the next",
                forged(
                    with_part(
                        good,
                        number,
                        local={"size": size - 1, "stored": size - 1},
                        central={"size": size - 1, "stored": size - 1},
                    )
                ),
            )
    first, second = 0, len(good.parts[0].data) + 30 + len(good.parts[0].raw)
    yield attack_of(
        kind,
        "two members share one local header",
        forged(with_part(good, 1, central={"position": first})),
    )
    yield attack_of(
        kind,
        "all members share one local header",
        forged([dataclasses.replace(part, central={"position": second}) for part in good.parts]),
    )
    inner = forged(parts("inner"))
    yield attack_of(kind, "a member's header inside another member", forged(
        [Part(name=f"{TOP}/outer", data=inner),
         Part(name=f"{TOP}/inner", data=b"inner", hide_local=True,
              central={"position": 30 + len(f"{TOP}/outer")})]))  # fmt: skip


def zlib_free_archive(part: Part) -> bytes:
    """The local header and bytes of one member, as they would stand in an archive."""
    whole = forged([part])
    return whole[: whole.index(b"PK\x01\x02")]


def _ordered(good: Good) -> Iterator[Attack]:
    kind = "members or directory in another order"
    count = len(good.parts)
    for name, order in {
        "reversed": list(range(count))[::-1],
        "first two exchanged": [1, 0, *range(2, count)],
        "last two exchanged": [*range(count - 2), count - 1, count - 2],
        "first one last": [*range(1, count), 0],
        "one left out": [*range(3), *range(4, count)],
        "one in place of another": [0, 0, *range(2, count)],
    }.items():
        yield attack_of(kind, f"directory: {name}", forged(good.parts, order=order))
    names = list(good.members)
    for one in (0, 6, 12, count - 2):
        swapped = names.copy()
        swapped[one], swapped[one + 1] = swapped[one + 1], swapped[one]
        data = put_together(good.top, {name: good.members[name] for name in swapped})
        yield attack_of(kind, f"members {one} and {one + 1} exchanged, all else right", data,
                      words="not in the order")  # fmt: skip
    data = put_together(good.top, dict(reversed(good.members.items())))
    yield attack_of(kind, "all members reversed, all else right", data, words="not in the order")


def _zip64(good: Good) -> Iterator[Attack]:
    kind = "ZIP64 records without need, or that lie"
    found = good.parts
    size = {"size": 0xFFFFFFFF, "stored": 0xFFFFFFFF}
    for name, data in {
        "records without need": forged(found, end64={}, locator={}),
        "record without locator": forged(found, end64={}),
        "locator without record": forged(found, locator={}),
        "announced by the count": forged(found, end={"count": 0xFFFF, "count_here": 0xFFFF}),
        "announced by the position": forged(found, end={"position": 0xFFFFFFFF}),
        "announced by the size": forged(found, end={"size": 0xFFFFFFFF}),
        "announced and there": forged(found, end={"count": 0xFFFF, "count_here": 0xFFFF}, end64={}, locator={}),
        "a record with another count": forged(found, end={"count": 0xFFFF, "count_here": 0xFFFF}, end64={"count": 1}, locator={}),
        "a record beyond everything": forged(found, end={"position": 0xFFFFFFFF}, end64={"position": 2**64 - 1}, locator={}),
        "a directory of 2^63 bytes": forged(found, end={"size": 0xFFFFFFFF}, end64={"size": 2**63}, locator={}),
        "2^64 - 1 members": forged(found, end={"count": 0xFFFF, "count_here": 0xFFFF}, end64={"count": 2**64 - 1, "count_here": 2**64 - 1}, locator={}),
        "a locator that points elsewhere": forged(found, end={"position": 0xFFFFFFFF}, end64={}, locator={"position": 0}),
        "two disks": forged(found, end={"position": 0xFFFFFFFF}, end64={}, locator={"disks": 2}),
        "a record with room for more": forged(found, end={"position": 0xFFFFFFFF}, end64={"record_size": 60}, locator={}),
        "a member of 2^64 - 1 bytes": forged(with_part(good, 2, central=size, central_extra=b"\1\0\x10\0" + b"\xff" * 16)),
        "a small member in ZIP64 form": forged(with_part(good, 2, local=size, central=size,
            local_extra=struct.pack("<HHQQ", 1, 16, *[len(found[2].data)] * 2),
            central_extra=struct.pack("<HHQQ", 1, 16, *[len(found[2].data)] * 2))),
        "a position in ZIP64 form": forged(with_part(good, 2, central={"position": 0xFFFFFFFF},
            central_extra=struct.pack("<HHQ", 1, 8, 0))),
        "sizes of 4 GiB without ZIP64": forged(with_part(good, 2, local=size, central=size)),
    }.items():  # fmt: skip
        yield attack_of(kind, name, data)


def _checksums(good: Good) -> Iterator[Attack]:
    """CRC-32 wrong in both headers alike: the structure is whole, the bytes are not as stated."""
    for number, part in enumerate(good.parts):
        name = part.raw.decode().split("/", 1)[1]
        if name == "seal/statement.json":
            continue  # read in step 1 already
        crc = {"crc": zlib.crc32(part.data) ^ 1}
        data = forged(with_part(good, number, local=crc, central=crc))
        yield Attack(
            family="archive",
            kind="CRC-32 wrong in both headers alike",
            name=name,
            data=data,
            step=2,
            words=f"{name}: the bytes do not have the stated CRC-32",
            alone=False,
        )
