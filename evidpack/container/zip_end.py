"""The end of an archive: end record, ZIP64 end record and its locator.

They must be exactly those that the writer makes, stand at the very end of the file, and the
central directory must reach exactly to them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from evidpack import limits
from evidpack.container import zip_format as fmt
from evidpack.container.archive import ByteSource
from evidpack.errors import ContainerError

LONGEST_NAME: Final = limits.MAX_REFERENCE_CHARACTERS + 1 + limits.MAX_NAME_BYTES
LONGEST_HEADER: Final = fmt.CENTRAL.size + LONGEST_NAME + 28


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """What the end records say: number of members; size and position of the directory."""

    count: int
    size: int
    offset: int


def read_end(source: ByteSource) -> End:
    """Read the end records.

    Raises:
        ContainerError: they differ from those that the writer makes, do not stand at the end, or
            state what cannot be.
    """
    path = source.path
    if source.size > limits.MAX_ARCHIVE_BYTES:
        raise ContainerError(
            "the archive is too large",
            path=path,
            expected=f"at most {limits.MAX_ARCHIVE_BYTES} bytes",
            observed=f"{source.size} bytes",
        )
    if source.size < fmt.END.size:
        raise ContainerError(
            "the file is too short for an archive",
            path=path,
            expected=f"at least {fmt.END.size} bytes",
            observed=f"{source.size} bytes",
        )
    at = source.size - fmt.END.size
    observed = source.read(at, fmt.END.size)
    signature, _, _, _, count, size, offset, _ = fmt.END.unpack(observed)
    before = b""
    if signature == fmt.END_SIGNATURE and _needs_zip64(count, size, offset):
        before = _read_zip64_end(source, at)
        count, size, offset = fmt.END64.unpack(before[: fmt.END64.size])[7:]
    end = End(count=count, size=size, offset=offset)
    _check_end(end, before + observed, at - len(before), path=path)
    _check_extent(source, end, at - len(before))
    return end


def _needs_zip64(count: int, size: int, offset: int) -> bool:
    return count == fmt.FULL16 or fmt.FULL32 in {size, offset}


def _read_zip64_end(source: ByteSource, at: int) -> bytes:
    """The ZIP64 end record and its locator, which must stand right before the end record."""
    length = fmt.END64.size + fmt.LOCATOR.size
    if at < length:
        raise ContainerError(
            "end record: says that a ZIP64 end record stands before it, where there is no room",
            path=source.path,
            offset=at,
            expected=f"{length} bytes before it",
            observed=f"{at} bytes",
        )
    return source.read(at - length, length)


def _check_end(end: End, observed: bytes, at: int, *, path: str) -> None:
    """Compare the end records with those that the writer would make of their own values."""
    expected = fmt.end_records(count=end.count, size=end.size, offset=end.offset)
    if len(expected) < len(observed):
        raise ContainerError(
            "the end records are in ZIP64 form without need",
            path=path,
            offset=at,
            expected="an end record alone",
            observed=f"{end.count} members, directory of {end.size} bytes at {end.offset}",
        )
    for where, fields, layout in (
        ("ZIP64 end record", fmt.END64_FIELDS, fmt.END64),
        ("ZIP64 locator", fmt.LOCATOR_FIELDS, fmt.LOCATOR),
        ("end record", fmt.END_FIELDS, fmt.END),
    ):
        if layout is not fmt.END and len(expected) == fmt.END.size:
            continue
        length = layout.size
        if expected[:length] != observed[:length]:
            fmt.refuse_difference(
                where,
                fields,
                expected=expected[:length],
                observed=observed[:length],
                at=at,
                path=path,
            )
        expected, observed, at = expected[length:], observed[length:], at + length


def _check_extent(source: ByteSource, end: End, end_at: int) -> None:
    """The directory must reach exactly to the end records, and the counts be possible."""
    path = source.path
    if end.offset + end.size != end_at:
        raise ContainerError(
            "the central directory does not reach exactly to the end records",
            path=path,
            offset=end_at,
            expected=f"a directory that ends at byte {end_at}",
            observed=f"{end.size} bytes from byte {end.offset}",
        )
    if not 1 <= end.count <= limits.MAX_MEMBERS:
        raise ContainerError(
            "the number of members is out of bounds",
            path=path,
            offset=end_at,
            expected=f"1 to {limits.MAX_MEMBERS}",
            observed=str(end.count),
        )
    if not end.count * fmt.CENTRAL.size < end.size <= end.count * LONGEST_HEADER:
        raise ContainerError(
            "the central directory cannot hold that number of members",
            path=path,
            offset=end_at,
            expected=f"{end.count} headers of {fmt.CENTRAL.size + 1} to {LONGEST_HEADER} bytes",
            observed=f"{end.size} bytes",
        )
    # Programs that look for a locator without need would find one here.
    if end_at >= fmt.LOCATOR.size and end_at + fmt.END.size == source.size:
        before = source.read(end_at - fmt.LOCATOR.size, 4)
        if before == fmt.LOCATOR_SIGNATURE:
            raise ContainerError(
                "what looks like a ZIP64 locator stands before an end record that needs none",
                path=path,
                offset=end_at - fmt.LOCATOR.size,
                expected="no locator",
                observed=f"bytes {before.hex(' ')}",
            )
