from __future__ import annotations

import io
import struct
import zipfile
import zlib

import pytest

from tests.container.archives import TOP, Part, forged, parts, refused

# Members that are no plain stored files


@pytest.mark.parametrize(
    ("where", "change", "message"),
    [
        ("both", {"flags": 0x0801}, "no encryption"),
        ("both", {"flags": 0x0808}, "no data descriptor"),
        ("both", {"flags": 0x0000}, "names in UTF-8"),
        ("both", {"flags": 0x2800}, "flags are not 0x0800"),
        ("both", {"method": 8}, "stored, not compressed"),
        ("both", {"method": 99}, "stored, not compressed"),
        ("both", {"version": 10}, "version needed is not the one value"),
        ("both", {"version": 45}, "version needed is not the one value"),
        ("both", {"time": 1}, "time is not the one value"),
        ("both", {"date": 0}, "date is not the one value"),
        ("both", {"stored": 0}, "stored size is not the size"),
        ("central", {"external": 0o120777 << 16}, "no links"),
        ("central", {"external": 0o040755 << 16 | 0x10}, "no links, folders"),
        ("central", {"external": 0o020644 << 16}, "special files"),
        ("central", {"external": 0o100755 << 16}, "a regular file's"),
        ("central", {"made_by": 20}, "version made by"),
        ("central", {"disk": 1}, "disk number"),
        ("central", {"internal": 1}, "internal attributes"),
    ],
)
def test_refuses_a_member_that_is_no_plain_stored_file(where, change, message):
    part = Part(name=f"{TOP}/a", data=b"abc", central=change)
    if where == "both":
        part.local = dict(change)
    assert message in str(refused(forged([part])))


def test_refuses_a_data_descriptor():
    data = b"abc"
    descriptor = b"PK\x07\x08" + struct.pack("<III", zlib.crc32(data), 3, 3)
    part = Part(name=f"{TOP}/a", data=data, local={"crc": 0, "size": 0, "stored": 0})
    part.local["flags"] = part.central["flags"] = 0x0808
    part.after = descriptor
    assert "no data descriptor" in str(refused(forged([part])))


def test_refuses_a_data_descriptor_without_its_flag():
    part = Part(name=f"{TOP}/a", data=b"abc", after=b"PK\x07\x08" + bytes(12))
    assert "bytes that belong to no member" in str(refused(forged([part])))


def test_refuses_what_zipfile_and_zip_make_with_defaults():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as other:
        other.writestr(f"{TOP}/a.txt", "alpha")
    refused(stream.getvalue())


def test_refuses_a_comment_of_a_member():
    part = Part(name=f"{TOP}/a", central={"comment_length": 2}, central_tail=b"hi")
    error = refused(forged([part, *parts("b")]))
    assert "members have no comment" in str(error)


def test_refuses_an_empty_archive():
    error = refused(forged([]))
    assert "number of members is out of bounds" in str(error)
    assert error.observed == "0"


# Extra fields

UNICODE_PATH = struct.pack("<HHBI", 0x7075, 5 + 1, 1, zlib.crc32(f"{TOP}/a".encode())) + b"z"
TIMES = struct.pack("<HHBI", 0x5455, 5, 1, 0)


@pytest.mark.parametrize("extra", [UNICODE_PATH, TIMES, b"\0\0\0\0", b"\1\0\0\0", b"x"])
@pytest.mark.parametrize("where", ["local", "central", "both"])
def test_refuses_an_extra_field_that_nothing_needs(extra: bytes, where: str):
    part = Part(name=f"{TOP}/a", data=b"abc")
    if where != "central":
        part.local_extra = extra
    if where != "local":
        part.central_extra = extra
    error = refused(forged([part]))
    assert "extra field is not what" in str(error) or "length of the extra field" in str(error)
    if where != "local":
        assert error.expected == "none"
        assert f"0x{int.from_bytes(extra[:2], 'little'):04x}" in str(error)


def zip64_part(**changes) -> Part:
    """A small member in ZIP64 form, as a lenient reader accepts it."""
    full = {"size": 0xFFFFFFFF, "stored": 0xFFFFFFFF, "version": 45}
    extra = struct.pack("<HHQQ", 1, 16, 3, 3)
    values = {"local": dict(full), "central": {**full, "made_by": 0x032D}}
    extras = {"local_extra": extra, "central_extra": extra}
    return Part(name=f"{TOP}/a", data=b"abc", **{**values, **extras, **changes})


def test_refuses_zip64_sizes_without_need():
    data = forged([zip64_part()])
    with zipfile.ZipFile(io.BytesIO(data)) as other:
        assert other.read(f"{TOP}/a") == b"abc"
    error = refused(data)
    assert "is in ZIP64 form without need" in str(error) or "version made by" in str(error)


@pytest.mark.parametrize(
    "extra",
    [
        b"",
        struct.pack("<HHQ", 1, 8, 3),
        struct.pack("<HHQQQ", 1, 24, 3, 3, 0),
        struct.pack("<HHQQ", 1, 16, 3, 3) + TIMES,
        TIMES + struct.pack("<HHQQ", 1, 16, 3, 3),
        struct.pack("<HHQQ", 1, 15, 3, 3),
        struct.pack("<HHQQ", 2, 16, 3, 3),
    ],
)
def test_refuses_a_zip64_extra_of_another_form(extra: bytes):
    error = refused(forged([zip64_part(central_extra=extra)]))
    assert "the extra field is not what size and position need" in str(error)
    assert "ZIP64's (0x0001) with 16 bytes" in str(error)


def test_refuses_zip64_sizes_that_differ_from_one_another():
    huge = 0xFFFFFFFF + 10
    extra = struct.pack("<HHQQ", 1, 16, huge, huge + 1)
    error = refused(forged([zip64_part(central_extra=extra, local_extra=extra)]))
    assert "central header 1" in str(error)


def test_refuses_a_zip64_size_beyond_everything():
    extra = struct.pack("<HHQQ", 1, 16, 2**64 - 1, 2**64 - 1)
    error = refused(forged([zip64_part(central_extra=extra, local_extra=extra)]))
    assert "runs into the central directory" in str(error)


def test_refuses_a_zip64_position_without_need():
    part = Part(name=f"{TOP}/a", data=b"abc", local={"version": 45})
    part.central = {"version": 45, "made_by": 0x032D, "position": 0xFFFFFFFF}
    part.central_extra = struct.pack("<HHQ", 1, 8, 0)
    refused(forged([part]))
