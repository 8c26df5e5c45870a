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
    _require_possible_size(source)
    at = source.size - fmt.END.size
    observed = source.read(at, fmt.END.size)
    signature, _, _, _, count, size, offset, _ = fmt.END.unpack(observed)
    if signature != fmt.END_SIGNATURE:
        raise ContainerError(
            "end record: signature is missing: the archive does not end in an end record",
            path=source.path,
            offset=at,
            expected=f"bytes {fmt.END_SIGNATURE.hex(' ')}",
            observed=f"bytes {signature.hex(' ')}",
            hint="The file is cut short, has something behind it, or is no archive.",
        )
    before = b""
    if _needs_zip64(count, size, offset):
        before = _read_zip64_end(source, at)
        count, size, offset = fmt.END64.unpack(before[: fmt.END64.size])[7:]
    end = End(count=count, size=size, offset=offset)
    _check_extent(source, end, at - len(before))
    _check_end(end, before + observed, at - len(before), path=source.path)
    _check_count(source, end)
    _check_disguise(source, end)
    return end


def _require_possible_size(source: ByteSource) -> None:
    """The file must be within the limit, and have room for an end record."""
    for wrong, message, expected in (
        (
            source.size > limits.MAX_ARCHIVE_BYTES,
            "the archive is too large",
            f"at most {limits.MAX_ARCHIVE_BYTES} bytes",
        ),
        (
            source.size < fmt.END.size,
            "the file is too short for an archive",
            f"at least {fmt.END.size} bytes",
        ),
    ):
        if wrong:
            raise ContainerError(
                message, path=source.path, expected=expected, observed=f"{source.size} bytes"
            )


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
    """The directory must reach exactly to the end records.

    Checked before anything is made of the values, which are within the file from here on.
    """
    if end.offset + end.size != end_at:
        raise ContainerError(
            "the central directory does not reach exactly to the end records",
            path=source.path,
            offset=end_at,
            expected=f"a directory that ends at byte {end_at}",
            observed=f"{end.size} bytes from byte {end.offset}",
        )


def _check_count(source: ByteSource, end: End) -> None:
    """Number of members and size of the directory must be within limits and fit one another."""
    size = f"{end.size} bytes"
    for right, message, expected, observed in (
        (
            1 <= end.count <= limits.MAX_MEMBERS,
            "the number of members is out of bounds",
            f"1 to {limits.MAX_MEMBERS}",
            str(end.count),
        ),
        (
            end.size <= limits.MAX_DIRECTORY_BYTES,
            "the central directory is too large",
            f"at most {limits.MAX_DIRECTORY_BYTES} bytes",
            size,
        ),
        (
            end.count * fmt.CENTRAL.size < end.size <= end.count * LONGEST_HEADER,
            "the central directory cannot hold that number of members",
            f"{end.count} headers of {fmt.CENTRAL.size + 1} to {LONGEST_HEADER} bytes",
            size,
        ),
    ):
        if not right:
            raise ContainerError(
                message,
                path=source.path,
                offset=end.offset + end.size,
                expected=expected,
                observed=observed,
            )


def _check_disguise(source: ByteSource, end: End) -> None:
    """No locator may seem to stand before an end record that needs none.

    Some programs look for one there without asking whether it is needed.  Only a last name of
    exactly 16 bytes, behind a position that spells the signature, could be taken for one.
    """
    at = end.offset + end.size - fmt.LOCATOR.size
    alone = end.offset + end.size + fmt.END.size == source.size
    if alone and source.read(at, 4) == fmt.LOCATOR_SIGNATURE:
        raise ContainerError(
            "what looks like a ZIP64 locator stands before an end record that needs none",
            path=source.path,
            offset=at,
            expected="no locator",
            observed=f"bytes {fmt.LOCATOR_SIGNATURE.hex(' ')}",
        )
