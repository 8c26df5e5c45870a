from __future__ import annotations

import contextlib
import io
import struct
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.container.bag import hash_members
from evidpack.errors import ContainerError
from tests.container import archives
from tests.container.archives import (
    GOOD,
    TOP,
    Part,
    changed,
    forged,
    opened,
    parts,
    refused,
    written,
)

# What is accepted


def test_lists_the_members_in_the_order_of_the_file():
    archive = opened(written())
    assert archive.top == TOP
    assert [(member.name, member.size) for member in archive.members] == [
        (name, len(data)) for name, data in GOOD
    ]
    assert [archive.read(name, limit=100) for name, _ in GOOD] == [data for _, data in GOOD]


def test_the_plain_builder_and_the_writer_agree_byte_for_byte():
    # The builder follows APPNOTE field by field and shares no code with the writer.
    assert forged([Part(name=f"{TOP}/{name}", data=data) for name, data in GOOD]) == written()


def test_pythons_zipfile_sees_the_same():
    archive = opened(written())
    with zipfile.ZipFile(io.BytesIO(written())) as other:
        assert other.testzip() is None
        assert [
            (info.filename, info.file_size, info.CRC, info.header_offset)
            for info in other.infolist()
        ] == [
            (
                f"{TOP}/{member.name}",
                member.size,
                member.crc32,
                member.offset - 30 - len(f"{TOP}/{member.name}".encode()),
            )
            for member in archive.members
        ]


# Every field of every header


def fields() -> list[tuple[str, int, int, str]]:
    """(where, offset in the archive, width, name) of every field of a good archive's headers."""
    data = written()
    found = []
    for where, layout, signature in (
        ("local", archives.LOCAL, b"PK\x03\x04"),
        ("central", archives.CENTRAL, b"PK\x01\x02"),
        ("end", archives.END, b"PK\x05\x06"),
    ):
        starts = [n for n in range(len(data)) if data[n : n + 4] == signature]
        for number, start in enumerate(starts):
            at = start
            for name, width in layout:
                found.append((f"{where}{number}", at, width, name))
                at += width
    return found


WORDS = {
    "signature": "signature",
    "version": "version needed",
    "made_by": "version made by",
    "flags": "no encryption, no data descriptor",
    "method": "stored, not compressed",
    "time": "time",
    "date": "date",
    "crc": "CRC-32",
    "disk": "disk",
    "start_disk": "disk of the central directory",
    "internal": "internal attributes",
    "external": "no links, folders or special files",
    "count_here": "number of members",
}


def changes() -> list[tuple[int, int, int, str]]:
    """(offset, width, new value, name) for a few wrong values of every field."""
    data = written()
    found = []
    for _, at, width, name in fields():
        old = int.from_bytes(data[at : at + width], "little")
        most = 256**width - 1
        values = {(old + 1) & most, (old - 1) & most, most, 0, old ^ (most // 2 + 1)} - {old}
        found += [(at, width, value, name) for value in sorted(values)]
    return found


@pytest.mark.parametrize(("at", "width", "value", "name"), changes())
def test_refuses_a_change_of_any_field(at: int, width: int, value: int, name: str):
    error = refused(changed(written(), at, width, value))
    assert WORDS.get(name, "") in str(error)


def test_refuses_every_single_bit_flip_and_every_other_value_of_a_few():
    # Each byte is a header's, which is fixed, or a member's, whose CRC-32 then differs.
    data = written((("data/export/a.txt", b"alpha"), ("bagit.txt", b"b")))
    for at in range(len(data)):
        for new in {data[at] ^ 1 << bit for bit in range(8)} | {0, 0xFF, 0x2F} - {data[at]}:
            forgery = data[:at] + bytes([new]) + data[at + 1 :]
            with contextlib.suppress(ContainerError):
                archive = opened(forgery)
                with pytest.raises(ContainerError, match="CRC-32"):
                    hash_members(archive)
                continue


@given(st.data())
def test_refuses_any_change_of_a_few_bytes(draw):
    data = bytearray(written())
    count = draw.draw(st.integers(1, 4))
    for _ in range(count):
        at = draw.draw(st.integers(0, len(data) - 1))
        data[at] ^= draw.draw(st.integers(1, 255))
    if bytes(data) == written():
        return
    with pytest.raises(ContainerError):
        hash_members(opened(bytes(data)))


@given(st.binary(max_size=400))
def test_refuses_arbitrary_bytes(data):
    refused(data)


@given(st.binary(max_size=60), st.binary(max_size=60))
def test_refuses_arbitrary_bytes_around_real_records(before, after):
    data = written()
    if before or after:
        refused(before + data + after)


@pytest.mark.parametrize("length", range(len(written())))
def test_refuses_a_file_that_is_cut_short(length: int):
    refused(written()[:length])


def test_refuses_a_byte_too_many_or_too_few_anywhere():
    data = written()
    for at in range(len(data)):
        for forgery in (data[:at] + b"\0" + data[at:], data[:at] + data[at + 1 :]):
            with pytest.raises(ContainerError):
                hash_members(opened(forgery))


# Bytes that belong to nothing


def test_refuses_a_prefix():
    assert "a gap stands before" in str(refused(forged(parts("a"), prefix=b"MZ")))


def test_refuses_a_prefix_with_positions_left_as_they_were():
    error = refused(b"#!/bin/sh\n" + written())
    assert "does not reach exactly to the end records" in str(error)


def test_refuses_a_suffix():
    error = refused(written() + b"\n")
    assert "end record: signature is missing" in str(error)


def test_refuses_a_comment_that_is_declared():
    error = refused(forged(parts("a"), end={"comment_length": 2}, suffix=b"hi"))
    assert "signature is missing" in str(error)


def test_refuses_a_whole_archive_as_the_comment_of_another():
    # A program that searches backwards finds the inner end record, others the outer one.
    inner = written()
    error = refused(forged(parts("a"), end={"comment_length": len(inner)}, suffix=inner))
    assert "does not reach exactly" in str(error)


def test_refuses_a_gap_between_members():
    error = refused(forged([*parts("a"), Part(name=f"{TOP}/b", before=b"\0" * 7)]))
    assert "a gap stands before" in str(error)
    assert "/b'" in str(error)
    assert error.offset == 30 + len(TOP) + 2 + 1 + 7


def test_refuses_a_member_that_only_local_headers_know():
    hidden = Part(name=f"{TOP}/hidden", data=b"seen by who reads front to back", hide_central=True)
    error = refused(forged([*parts("a"), hidden, *parts("b")]))
    assert "a gap stands before" in str(error)


def test_refuses_a_hidden_last_member():
    hidden = Part(name=f"{TOP}/hidden", data=b"x", hide_central=True)
    error = refused(forged([*parts("a"), hidden]))
    assert "bytes that belong to no member" in str(error)


def test_refuses_bytes_before_the_central_directory():
    error = refused(forged(parts("a"), before_directory=b"\0"))
    assert "bytes that belong to no member" in str(error)
    assert error.expected == "the central directory at byte 49"


def test_refuses_bytes_behind_the_central_directory():
    error = refused(forged(parts("a"), after_directory=b"PK\x05\x05\0\0"))
    assert "does not reach exactly to the end records" in str(error)


def test_refuses_bytes_inside_the_central_directory():
    data = forged(parts("a", "b"))
    at = data.rindex(b"PK\x05\x06")
    end = struct.unpack("<4sHHHHIIH", data[at:])
    forgery = data[:at] + b"junk" + struct.pack("<4sHHHHIIH", *end[:5], end[5] + 4, *end[6:])
    error = refused(forgery)
    assert "holds more than its headers" in str(error)
    assert error.observed == "4 more bytes"


def test_refuses_a_directory_that_ends_inside_a_header():
    # Twice the count, so that the length is possible, but the second header is cut off.
    data = forged([Part(name=f"{TOP}/{'n' * 200}")])
    at = data.rindex(b"PK\x05\x06")
    error = refused(changed(changed(data, at + 8, 2, 2), at + 10, 2, 2))
    assert "the central directory ends inside it" in str(error)


# Two members, one place; two places, one member


def test_refuses_two_headers_for_one_place():
    twin = Part(name=f"{TOP}/b", data=b"a", hide_local=True, central={"position": 0})
    error = refused(forged([*parts("a"), twin]))
    assert "another member overlaps" in str(error)


def test_refuses_a_member_inside_another():
    # The "quoted" overlap: the bytes of one member are the local header and bytes of the next.
    inner = forged([Part(name=f"{TOP}/b", data=b"x")])
    local = inner[: inner.index(b"PK\x01\x02")]
    outer = Part(name=f"{TOP}/a", data=local)
    inside = Part(
        name=f"{TOP}/b", data=b"x", hide_local=True, central={"position": 30 + len(TOP) + 2}
    )
    error = refused(forged([outer, inside]))
    assert "another member overlaps" in str(error)


def test_refuses_a_member_that_runs_into_the_directory():
    big = {"size": 500, "stored": 500}
    error = refused(forged([Part(name=f"{TOP}/a", local=big, central=big)]))
    assert "runs into the central directory" in str(error)


def test_refuses_members_that_stand_in_another_order_than_the_directory():
    error = refused(forged(parts("a", "b"), order=[1, 0]))
    assert "a gap stands before" in str(error)


def test_refuses_a_local_name_that_differs():
    part = Part(name=f"{TOP}/a.txt", local_name=f"{TOP}/b.txt".encode())
    error = refused(forged([part]))
    assert "name or ZIP64 extra field disagrees with the central directory" in str(error)
    assert error.offset == 30 + len(TOP) + 1


def test_refuses_a_local_name_of_another_length():
    error = refused(forged([Part(name=f"{TOP}/a.txt", local_name=f"{TOP}/a.txt2".encode())]))
    assert "length of the name disagrees" in str(error)


def test_refuses_a_local_size_that_differs():
    error = refused(forged([Part(name=f"{TOP}/a", data=b"abc", local={"size": 2, "stored": 2})]))
    assert "size disagrees with the central directory" in str(error)
    assert (error.expected, error.observed) == ("0x00000003", "0x00000002")
