"""Archive attacks: every field of local headers, central headers and end record, with other values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.container.archives import CENTRAL, END, LOCAL

_KINDS: Final = {
    "signature": "signature of a header altered",
    "made_by": "version fields altered",
    "version": "version fields altered",
    "flags": "flags altered: encryption, data descriptor, encoding of names",
    "method": "compression method altered",
    "time": "time or date altered, though they carry no meaning",
    "date": "time or date altered, though they carry no meaning",
    "crc": "CRC-32 stated differently in the two headers",
    "stored": "size stated differently in the two headers",
    "size": "size stated differently in the two headers",
    "name_length": "length of name, extra field or comment altered",
    "extra_length": "length of name, extra field or comment altered",
    "comment_length": "length of name, extra field or comment altered",
    "disk": "disk number or internal attributes altered",
    "start_disk": "disk number or internal attributes altered",
    "internal": "disk number or internal attributes altered",
    "external": "attributes of a link, folder, device or program",
    "position": "position of a member or of the directory altered",
    "count_here": "number of members altered",
    "count": "number of members altered",
}
_ATTRIBUTES: Final = {
    "a symbolic link": 0o120777 << 16,
    "a folder": 0o040755 << 16,
    "a folder for MS-DOS": 0o100644 << 16 | 0x10,
    "a character device": 0o020666 << 16,
    "a block device": 0o060660 << 16,
    "a pipe": 0o010644 << 16,
    "a socket": 0o140755 << 16,
    "a program": 0o100755 << 16,
    "set user id": 0o104755 << 16,
    "set group id": 0o102755 << 16,
    "sticky": 0o101644 << 16,
    "no kind": 0o000644 << 16,
    "read-only": 0o100444 << 16,
    "hidden for MS-DOS": 0o100644 << 16 | 0x02,
    "nothing at all": 0,
}


def attacks(good: Good) -> Iterator[Attack]:
    """Three other values for each field of the first, a middle and the last header; attributes."""
    data = good.day.bundle
    for where, start, layout in _headers(data):
        at = start
        for name, width in layout:
            old = int.from_bytes(data[at : at + width], "little")
            most = (1 << 8 * width) - 1
            for how, value in (
                ("lowest bit", old ^ 1),
                ("highest bit", old ^ (1 << 8 * width - 1)),
                ("all bits set", most),
            ):
                yield Attack(
                    family="archive",
                    kind=_KINDS[name],
                    name=f"{where}, {name}, {how}",
                    data=data[:at] + value.to_bytes(width, "little") + data[at + width :],
                    step=1,
                )
            at += width
    yield from _attributes(good)


def _headers(data: bytes) -> Iterator[tuple[str, int, tuple[tuple[str, int], ...]]]:
    for shown, signature, layout in (
        ("local header", b"PK\x03\x04", LOCAL),
        ("central header", b"PK\x01\x02", CENTRAL),
    ):
        starts = [at for at in range(len(data)) if data.startswith(signature, at)]
        for which, start in (
            ("first", starts[0]),
            ("middle", starts[len(starts) // 2]),
            ("last", starts[-1]),
        ):
            yield f"{which} {shown}", start, layout
    yield "end record", len(data) - 22, END


def _attributes(good: Good) -> Iterator[Attack]:
    data = good.day.bundle
    at = data.index(b"PK\x01\x02") + 38
    for name, value in _ATTRIBUTES.items():
        yield Attack(
            family="archive",
            kind=_KINDS["external"],
            name=f"the first member as {name}",
            data=data[:at] + value.to_bytes(4, "little") + data[at + 4 :],
            step=1,
            words="external attributes",
        )
