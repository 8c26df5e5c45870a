"""Archives for the tests: good ones, and a slow, plain ZIP builder in which every field can lie.

The builder knows nothing of the package: it follows PKWARE APPNOTE 6.3.10, sections 4.3.7, 4.3.12
and 4.3.14 to 4.3.16, field by field.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest

from evidpack.container.zip_reader import Archive, read_archive
from evidpack.container.zip_writer import ZipWriter
from evidpack.errors import ContainerError

TOP = "TRU-2026-05-14-A"
GOOD = (
    ("data/export/a.txt", b"alpha"),
    ("data/export/b/ä.bin", b"\x00\x01\x02"),
    ("bagit.txt", b""),
)


def written(members: Sequence[tuple[str, bytes]] = GOOD, *, top: str = TOP) -> bytes:
    """What the package's writer makes of these members."""
    stream = io.BytesIO()
    writer = ZipWriter(stream, top)
    for name, data in members:
        writer.add_bytes(name, data)
    writer.finish()
    return stream.getvalue()


def opened(data: bytes) -> Archive:
    """The archive in these bytes, strictly read."""
    return read_archive(io.BytesIO(data), path="test.zip")


LOCAL = (
    ("signature", 4), ("version", 2), ("flags", 2), ("method", 2), ("time", 2), ("date", 2),
    ("crc", 4), ("stored", 4), ("size", 4), ("name_length", 2), ("extra_length", 2),
)  # fmt: skip
CENTRAL = (
    ("signature", 4), ("made_by", 2), ("version", 2), ("flags", 2), ("method", 2), ("time", 2),
    ("date", 2), ("crc", 4), ("stored", 4), ("size", 4), ("name_length", 2), ("extra_length", 2),
    ("comment_length", 2), ("disk", 2), ("internal", 2), ("external", 4), ("position", 4),
)  # fmt: skip
END = (
    ("signature", 4), ("disk", 2), ("start_disk", 2), ("count_here", 2), ("count", 2), ("size", 4),
    ("position", 4), ("comment_length", 2),
)  # fmt: skip
END64 = (
    ("signature", 4), ("record_size", 8), ("made_by", 2), ("version", 2), ("disk", 4),
    ("start_disk", 4), ("count_here", 8), ("count", 8), ("size", 8), ("position", 8),
)  # fmt: skip
LOCATOR = (("signature", 4), ("disk", 4), ("position", 8), ("disks", 4))


def packed(layout: Sequence[tuple[str, int]], values: dict[str, int]) -> bytes:
    """The fields one after the other, little-endian."""
    return b"".join(values[name].to_bytes(width, "little") for name, width in layout)


@dataclass(kw_only=True)
class Part:
    """One member, with whatever is to be different about it."""

    name: str | bytes
    data: bytes = b""
    local: dict[str, int] = field(default_factory=dict)
    central: dict[str, int] = field(default_factory=dict)
    local_name: bytes | None = None
    local_extra: bytes = b""
    central_extra: bytes = b""
    central_tail: bytes = b""
    before: bytes = b""
    after: bytes = b""
    hide_local: bool = False
    hide_central: bool = False

    @property
    def raw(self) -> bytes:
        return self.name if isinstance(self.name, bytes) else self.name.encode()


def forged(
    parts: Sequence[Part],
    *,
    order: Sequence[int] | None = None,
    prefix: bytes = b"",
    before_directory: bytes = b"",
    after_directory: bytes = b"",
    end: dict[str, int] | None = None,
    end64: dict[str, int] | None = None,
    locator: dict[str, int] | None = None,
    suffix: bytes = b"",
) -> bytes:
    """A ZIP of these parts.  `end64` or `locator` given, even empty, asks for that record."""
    body = bytearray(prefix)
    headers: list[bytes] = []
    for part in parts:
        body += part.before
        values = {
            "version": 20, "flags": 0x0800, "method": 0, "time": 0, "date": 0x21,
            "crc": zlib.crc32(part.data), "stored": len(part.data), "size": len(part.data),
            "name_length": len(part.raw),
        }  # fmt: skip
        position = len(body)
        if not part.hide_local:
            name = part.raw if part.local_name is None else part.local_name
            extra = {"signature": 0x04034B50, "extra_length": len(part.local_extra)}
            own = {**values, **extra, "name_length": len(name), **part.local}
            body += packed(LOCAL, own) + name + part.local_extra + part.data
        if not part.hide_central:
            extra = {
                "signature": 0x02014B50, "made_by": 0x0314, "extra_length": len(part.central_extra),
                "comment_length": 0, "disk": 0, "internal": 0, "external": 0o100644 << 16,
                "position": position,
            }  # fmt: skip
            fixed = packed(CENTRAL, {**values, **extra, **part.central})
            headers.append(fixed + part.raw + part.central_extra + part.central_tail)
        body += part.after
    body += before_directory
    headers = headers if order is None else [headers[number] for number in order]
    directory = b"".join(headers)
    position, size = len(body), len(directory)
    body += directory + after_directory
    count = {"count_here": len(headers), "count": len(headers), "size": size, "position": position}
    zero = {"disk": 0, "start_disk": 0}
    if end64 is not None:
        fixed64 = {"signature": 0x06064B50, "record_size": 44, "made_by": 0x032D, "version": 45}
        body += packed(END64, {**fixed64, **zero, **count, **end64})
    if locator is not None:
        fixed64 = {"signature": 0x07064B50, "disk": 0, "position": position + size, "disks": 1}
        body += packed(LOCATOR, {**fixed64, **locator})
    short = {"signature": 0x06054B50, "comment_length": 0, **zero, **count, **(end or {})}
    return bytes(body) + packed(END, short) + suffix


def parts(*names: str, top: str = TOP) -> list[Part]:
    """Plain parts with these names under the top folder."""
    return [Part(name=f"{top}/{name}", data=name.encode()) for name in names]


def refused(data: bytes) -> ContainerError:
    """The error with which the reader refuses; a refusal always has path, expected, observed."""
    with pytest.raises(ContainerError) as caught:
        opened(data)
    error = caught.value
    assert error.path == "test.zip"
    assert error.expected is not None
    assert error.observed is not None
    return error


def changed(data: bytes, at: int, width: int, value: int) -> bytes:
    """The same bytes with another little-endian number at one place."""
    return data[:at] + value.to_bytes(width, "little") + data[at + width :]
