"""The bag in an archive (RFC 8493, version 1.0), with one permitted byte sequence for each tag file.

A bag validator of the usual kind accepts files that no tag manifest lists, and a missing tag
manifest.  Here the world is closed: every member is listed exactly once and has the listed
digest, and nothing else is listed.  All faults are collected, each naming its item.
"""

from __future__ import annotations

import re
from collections.abc import Generator, Iterator, Mapping
from datetime import date
from typing import Final

from evidpack import limits
from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.container.faults import BagFault
from evidpack.container.hashing import hash_members
from evidpack.container.names import require_name
from evidpack.errors import ContainerError

__all__ = [
    "BAGIT_TXT",
    "BagFault",
    "bag_info",
    "hash_members",
    "manifest",
    "parse_manifest",
    "require_bag",
]

BAGIT_TXT: Final = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

_LINE: Final = re.compile(r"([0-9a-f]{64})  (.+)", re.DOTALL)
_DATE: Final = re.compile(rb"^Bagging-Date: ([0-9]{4}-[0-9]{2}-[0-9]{2})$", re.MULTILINE)
# Files that would give a bag a second list of contents (RFC 8493, sections 2.1.3, 2.2.1, 2.2.3).
_OTHER_LIST: Final = re.compile(r"(?:tag)?manifest-[^/]*|fetch\.txt", re.IGNORECASE)


def bag_info(*, top: str, payload_bytes: int, payload_files: int, bagging_date: str) -> bytes:
    """The one permitted bag-info.txt (RFC 8493, section 2.2.2).

    Args:
        top: name of the bag's folder, which is its identifier.
        payload_bytes: sum of the sizes of all files under data/.
        payload_files: their number.
        bagging_date: YYYY-MM-DD.

    Raises:
        ContainerError: `bagging_date` is no date of that form.
    """
    if not _is_date(bagging_date):
        raise ContainerError(
            "the bagging date is no date", expected="YYYY-MM-DD", observed=ascii(bagging_date)
        )
    return (
        f"External-Identifier: {top}\n"
        f"Bagging-Date: {bagging_date}\n"
        f"Payload-Oxum: {payload_bytes}.{payload_files}\n"
    ).encode("ascii")


def manifest(digests: Mapping[str, bytes]) -> bytes:
    """The one permitted manifest of these SHA-256 digests: as `sha256sum` prints it, sorted.

    Args:
        digests: by name relative to the bag's folder.
    """
    return "".join(f"{digests[name].hex()}  {name}\n" for name in sorted(digests)).encode("utf-8")


def parse_manifest(data: bytes, *, path: str) -> dict[str, bytes]:
    """Read a manifest, which must be what `manifest` makes of its contents.

    Returns:
        The digests by name, in the order of the lines.

    Raises:
        ContainerError: with `path` and line: not UTF-8, another form of line, a name that is not
            allowed, lines not sorted or doubled, no line feed at the end.
    """
    found: dict[str, bytes] = {}
    before = ""
    for number, raw in _lines(data, path=path):
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            text = ""
        matched = _LINE.fullmatch(text)
        if matched is None:
            raise ContainerError(
                "the line is not one of a manifest",
                path=path,
                line=number,
                expected="64 lower-case hex digits, two spaces, a name in UTF-8",
                observed=ascii(raw[:100]),
            )
        digest, name = matched.groups()
        _require_listed_name(name, path=path, line=number)
        if name <= before:
            raise ContainerError(
                "the lines are not sorted by name, each name once",
                path=path,
                line=number,
                expected=f"a name after {before[:100]!a}",
                observed=ascii(name[:100]),
            )
        before = name
        found[name] = bytes.fromhex(digest)
    return found


def _lines(data: bytes, *, path: str) -> Iterator[tuple[int, bytes]]:
    """Lines without their line feed, numbered from 1; byte 0x0A alone ends a line."""
    at = 0
    number = 0
    while at < len(data):
        number += 1
        end = data.find(b"\n", at)
        if end < 0:
            raise ContainerError(
                "the last line has no line feed",
                path=path,
                line=number,
                expected="a line feed (0x0A) at the end",
                observed=ascii(data[-20:]),
            )
        if number > limits.MAX_MEMBERS:
            raise ContainerError(
                "the manifest has too many lines",
                path=path,
                line=number,
                expected=f"at most {limits.MAX_MEMBERS}",
                observed="more",
            )
        yield number, data[at:end]
        at = end + 1


def _require_listed_name(name: str, *, path: str, line: int) -> None:
    try:
        require_name(name)
    except ContainerError as error:
        raise ContainerError(
            error.message, path=path, line=line, expected=error.expected, observed=error.observed
        ) from None


def require_bag(archive: Archive, digests: Mapping[str, bytes]) -> tuple[BagFault, ...]:
    """Check the bag as a closed world; every fault found, in a stated order.

    The order: bagit.txt, other lists of contents, payload manifest, bag-info.txt, tag manifest;
    within a manifest by name.

    Args:
        archive: its structure checked.
        digests: SHA-256 of every member, as `hash_members` gives them.

    Returns:
        The faults; none if the bag is whole.
    """
    payload = {name: digests[name] for name in _names(archive) if name.startswith(layout.DATA)}
    tags = {
        name: digests[name]
        for name in _names(archive)
        if name not in payload and name != layout.TAG_MANIFEST
    }
    return (
        *_check_tag_file(archive, layout.BAGIT, BAGIT_TXT),
        *_other_lists(archive),
        *_check_manifest(archive, layout.MANIFEST, payload),
        *_check_info(archive, payload),
        *_check_manifest(archive, layout.TAG_MANIFEST, tags),
    )


def _names(archive: Archive) -> Iterator[str]:
    return (member.name for member in archive.members)


def _check_tag_file(archive: Archive, name: str, expected: bytes) -> Iterator[BagFault]:
    """The file must be there with exactly these bytes; the first other line is shown."""
    found = yield from _read(archive, name)
    if found is None or found == expected:
        return
    pairs = enumerate(zip(_split(expected, found), _split(found, expected), strict=True), start=1)
    number, (wanted, seen) = next((n, pair) for n, pair in pairs if pair[0] != pair[1])
    yield BagFault(
        item=name,
        message=f"line {number} is not the one permitted",
        expected=ascii(wanted),
        observed=ascii(seen[:100]),
    )


def _split(data: bytes, other: bytes) -> list[bytes]:
    """Lines with their line feeds, padded to the number of lines of the other."""
    *whole, last = data.split(b"\n")
    lines = [line + b"\n" for line in whole] + [last]
    return lines + [b""] * (other.count(b"\n") + 1 - len(lines))


def _read(archive: Archive, name: str) -> Generator[BagFault, None, bytes | None]:
    """The bytes of a tag file, or a fault and None."""
    try:
        return archive.read(name, limit=limits.MAX_TAG_FILE_BYTES)
    except ContainerError as error:
        yield BagFault(
            item=name,
            message=error.message.removeprefix(f"{name} ").removeprefix(f"{name}: "),
            expected=error.expected or "bytes that can be read",
            observed=error.observed or "none",
        )
        return None


def _other_lists(archive: Archive) -> Iterator[BagFault]:
    """Any further manifest, and fetch.txt, would be a second list of contents."""
    for name in _names(archive):
        if _OTHER_LIST.fullmatch(name) and name not in {layout.MANIFEST, layout.TAG_MANIFEST}:
            yield BagFault(
                item=name,
                message="is a second list of contents",
                expected=f"{layout.MANIFEST} and {layout.TAG_MANIFEST} alone",
                observed=name,
            )


def _check_manifest(archive: Archive, name: str, actual: Mapping[str, bytes]) -> Iterator[BagFault]:
    """Every file must be listed with its digest, and nothing else."""
    data = yield from _read(archive, name)
    if data is None or data == manifest(actual):
        return
    try:
        listed = parse_manifest(data, path=name)
    except ContainerError as error:
        yield BagFault(
            item=name,
            message=f"line {error.line}: {error.message}",
            expected=str(error.expected),
            observed=str(error.observed),
        )
        return
    for item in sorted(actual.keys() | listed.keys()):
        if item not in actual:
            message, observed = f"is listed in {name} but missing", "no such file"
        elif item not in listed:
            message, observed = f"is not listed in {name}", actual[item].hex()
        elif actual[item] != listed[item]:
            message, observed = f"has other bytes than {name} lists", actual[item].hex()
        else:
            continue
        expected = listed[item].hex() if item in listed else "a line for it, or no such file"
        yield BagFault(item=item, message=message, expected=expected, observed=observed)


def _check_info(archive: Archive, payload: Mapping[str, bytes]) -> Iterator[BagFault]:
    """bag-info.txt must be what its date and the payload make of it."""
    data = yield from _read(archive, layout.BAG_INFO)
    if data is None:
        return
    stated = _DATE.search(data[:1024])
    bagging_date = stated[1].decode("ascii") if stated else ""
    if not _is_date(bagging_date):
        yield BagFault(
            item=layout.BAG_INFO,
            message="has no line with the bagging date",
            expected="Bagging-Date: YYYY-MM-DD",
            observed=ascii(data[:200]),
        )
        return
    expected = bag_info(
        top=archive.top,
        payload_bytes=sum(member.size for member in archive.members if member.name in payload),
        payload_files=len(payload),
        bagging_date=bagging_date,
    )
    yield from _check_tag_file(archive, layout.BAG_INFO, expected)


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
