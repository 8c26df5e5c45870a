from __future__ import annotations

import contextlib
import io
import struct
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container.bag import hash_members
from evidpack.container.zip_reader import read_archive
from evidpack.errors import ContainerError
from tests.container import archives
from tests.container.archives import GOOD, TOP, Part, forged, opened, parts, written


def refused(data: bytes) -> ContainerError:
    """The error with which the reader refuses; a refusal always has path, expected, observed."""
    with pytest.raises(ContainerError) as caught:
        opened(data)
    error = caught.value
    assert error.path == "test.zip"
    assert error.expected is not None
    assert error.observed is not None
    return error


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
            (info.filename, info.file_size, info.CRC, info.header_offset) for info in other.infolist()
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

MARKED = archives.packed


def changed(data: bytes, at: int, width: int, value: int) -> bytes:
    return data[:at] + value.to_bytes(width, "little") + data[at + width :]


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


@pytest.mark.parametrize(("where", "at", "width", "name"), fields())
@pytest.mark.parametrize("how", ["plus one", "all ones", "zero", "top bit"])
def test_refuses_a_change_of_any_field(where: str, at: int, width: int, name: str, how: str):
    data = written()
    old = int.from_bytes(data[at : at + width], "little")
    most = 256**width - 1
    new = {"plus one": (old + 1) & most, "all ones": most, "zero": 0, "top bit": old ^ most // 2 + 1}
    if new[how] == old:
        pytest.skip("that is the good value")
    error = refused(changed(data, at, width, new[how]))
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


# End records


def test_refuses_zip64_end_records_without_need():
    for records in ({"end64": {}, "locator": {}}, {"locator": {}}, {"end64": {}}):
        data = forged(parts("a"), **records)
        assert "does not reach exactly to the end records" in str(refused(data))


def test_refuses_zip64_end_records_announced_without_need():
    data = forged(parts("a"), end={"count": 0xFFFF, "count_here": 0xFFFF}, end64={}, locator={})
    with zipfile.ZipFile(io.BytesIO(data)) as other:
        assert other.namelist() == [f"{TOP}/a"]
    error = refused(data)
    assert "in ZIP64 form without need" in str(error)


def test_refuses_an_announced_zip64_record_where_there_is_no_room():
    data = forged([], end={"count": 0xFFFF, "count_here": 0xFFFF})
    assert "where there is no room" in str(refused(data))


def test_refuses_an_announced_zip64_record_that_is_not_there():
    data = forged(parts(*"abcd"), end={"size": 0xFFFFFFFF})
    refused(data)


def test_refuses_a_directory_hidden_behind_a_zip64_record():
    # Old programs use the end record, new ones the ZIP64 record: two directories, two readings.
    data = forged(parts("a"), end={"position": 0xFFFFFFFF}, end64={"position": 0}, locator={})
    refused(data)


@pytest.mark.parametrize(
    ("end", "message"),
    [
        ({"count": 2}, "number of members on this disk is not"),
        ({"count": 2, "count_here": 2}, "cannot hold that number of members"),
        ({"disk": 1}, "disk number"),
        ({"start_disk": 1}, "disk of the central directory"),
        ({"position": 0}, "does not reach exactly"),
        ({"size": 1}, "does not reach exactly"),
    ],
)
def test_refuses_end_records_that_lie(end, message):
    if "count" in end and "count_here" not in end:
        message = "number of members"
    assert message in str(refused(forged(parts("a"), end=end)))


def test_refuses_a_locator_in_disguise():
    # A 16-byte name as the last one, at a position whose bytes are the locator's signature: to a
    # program that looks for a locator before any end record, the name is one.
    position = int.from_bytes(b"PK\x06\x07", "little")
    stream = io.BytesIO()
    sparse = Sparse(stream, hole_at=100, hole=position)
    name = b"T/" + b"n" * 14
    filler = Part(name="T/filler")
    first = position - 30 - len(filler.raw)
    filler.local = filler.central = {"size": first, "stored": first, "crc": 0}
    head = forged([filler])
    local = head[: head.index(b"PK\x01\x02")]
    tail = forged([Part(name=name)])
    directory = head[len(local) : head.rindex(b"PK\x05\x06")]
    own = tail[: tail.index(b"PK\x01\x02")]
    central = changed(tail[len(own) : tail.rindex(b"PK\x05\x06")], 42, 4, position)
    size = len(directory) + len(central)
    end = struct.pack("<4sHHHHIIH", b"PK\x05\x06", 0, 0, 2, 2, size, position + len(own), 0)
    sparse.parts = [(0, local), (position, own + directory + central + end)]
    with pytest.raises(ContainerError, match="looks like a ZIP64 locator"):
        read_archive(sparse, path="test.zip")


class Sparse(io.RawIOBase):
    """A large file of zeros with a few parts set, in little memory."""

    def __init__(self, stream, *, hole_at: int, hole: int) -> None:
        self.parts: list[tuple[int, bytes]] = []
        self.at = 0

    def seekable(self) -> bool:
        return True

    def readable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = 0) -> int:
        end = max(at + len(data) for at, data in self.parts)
        self.at = offset + {0: 0, 1: self.at, 2: end}[whence]
        return self.at

    def read(self, count: int = -1) -> bytes:
        found = bytearray(count)
        for at, data in self.parts:
            for number in range(max(at, self.at), min(at + len(data), self.at + count)):
                found[number - self.at] = data[number - at]
        self.at += count
        return bytes(found)


# Names


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("/etc/passwd", "outside the top folder"),
        (f"{TOP}//a", "has an empty part"),
        (f"{TOP}/", "it is empty"),
        (f"{TOP}/folder/", "ends in a slash"),
        (f"{TOP}/../a", "parent folder"),
        (f"{TOP}/./a", "parent folder"),
        (f"{TOP}/x/../../a", "parent folder"),
        (f"{TOP}/C:/a", "U+003A"),
        (f"{TOP}/a:stream", "U+003A"),
        (f"{TOP}/a\\b", "U+005C"),
        (f"{TOP}/a\0.exe", "U+0000"),
        (f"{TOP}/a\n", "U+000A"),
        (f"{TOP}/a\x7f", "U+007F"),
        (f"{TOP}/a%0A", "U+0025"),
        (f"{TOP}/a\u202egpj.exe", "U+202E"),
        (f"{TOP}/a\u200d", "U+200D"),
        (f"{TOP}/a\u2028b", "U+2028"),
        (f"{TOP}/a\u00a0b", "U+00A0"),
        (f"{TOP}/a\ufe0f", "U+FE0F"),
        (f"{TOP}/a.", "ends in a space or a dot"),
        (f"{TOP}/a /b", "ends in a space or a dot"),
        (f"{TOP}/ a", "starts with a space"),
        (f"{TOP}/nul", "device name"),
        (f"{TOP}/COM1.txt", "device name"),
        (f"{TOP}/aux /x", "space or a dot"),
        (f"{TOP}/e\u0301", "not in form NFC"),
        (f"{TOP}/\U0001f697", "U+1F697"),
    ],
)
def test_refuses_a_name_that_some_program_would_change(name: str, message: str):
    error = refused(forged([*parts("first"), Part(name=name, data=b"x")]))
    assert message in str(error)


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("a.txt", "a.txt"),
        ("a.txt", "A.TXT"),
        ("straße", "STRASSE"),
        ("Å", "å"),
        ("\u212b"[:0] + "Å", "å"),
        ("ſ", "s"),
        ("ı", "I"),
        ("a", "a/b"),
        ("a/b", "a"),
        ("A/b", "a"),
        ("a/b", "A/c"),
        ("Σ", "ς"),
    ],
)
def test_refuses_twins(one: str, two: str):
    error = refused(forged([Part(name=f"{TOP}/{one}"), Part(name=f"{TOP}/{two}")]))
    assert "two names could be taken for one another" in str(error)


def test_refuses_a_second_top_folder():
    error = refused(forged([*parts("a"), *parts("b", top="TRU-2")]))
    assert "outside the top folder" in str(error)
    assert error.expected == f"a name that begins with '{TOP}/'"


def test_refuses_another_spelling_of_the_top_folder():
    assert "outside the top folder" in str(refused(forged([*parts("a"), *parts("b", top=TOP.lower())])))


def test_refuses_members_without_a_top_folder():
    assert "outside a top folder" in str(refused(forged([Part(name="a.txt")])))


@pytest.mark.parametrize("top", ["", "..", ".hidden", "a.", "CON", "ä", "a b", "a" * 65])
def test_refuses_a_top_folder_that_is_no_reference(top: str):
    assert "reference" in str(refused(forged([Part(name=f"{top}/a")])))


def test_refuses_names_that_are_not_utf8():
    error = refused(forged([*parts("first"), Part(name=TOP.encode() + b"/a\xff")]))
    assert "is not UTF-8" in str(error)
    assert error.observed == "byte 0xff"


@pytest.mark.parametrize("bad", [b"\xc0\xaf", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\xe0\x80\x80"])
def test_refuses_overlong_forms_and_surrogates(bad: bytes):
    assert "is not UTF-8" in str(refused(forged([*parts("a"), Part(name=TOP.encode() + b"/" + bad)])))


def test_refuses_an_empty_raw_name():
    error = refused(forged([Part(name=b""), *parts("a" * 60)]))
    assert "length of the name is out of bounds" in str(error)


# Limits, at the limit and one past it


def test_members_at_the_limit_and_one_past_it(monkeypatch):
    monkeypatch.setattr(limits, "MAX_MEMBERS", 3)
    assert len(opened(forged(parts("a", "b", "c"))).members) == 3
    error = refused(forged(parts("a", "b", "c", "d")))
    assert "number of members is out of bounds" in str(error)
    assert (error.expected, error.observed) == ("1 to 3", "4")


def test_size_at_the_limit_and_one_past_it(monkeypatch):
    data = written()
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", len(data))
    opened(data)
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", len(data) - 1)
    error = refused(data)
    assert "the archive is too large" in str(error)


def long_name(size: int) -> str:
    """A name of that many bytes, in parts that are allowed."""
    return "/".join(["n" * 200] * 4 + ["n" * (size - 804)])


def test_name_at_the_limit_and_one_past_it():
    good, bad = long_name(limits.MAX_NAME_BYTES), long_name(limits.MAX_NAME_BYTES + 1)
    assert opened(forged(parts(good))).members[0].name == good
    assert "it has 1025 bytes" in str(refused(forged(parts(bad))))


def test_name_far_past_the_limit_is_refused_before_it_is_read():
    error = refused(forged(parts(long_name(1_000) + "/" + long_name(1_000))))
    assert "cannot hold that number of members" in str(error)
    error = refused(forged([*parts(*"abcdefghijklmnopqrst"), *parts("x" * 5_000)]))
    assert "length of the name is out of bounds" in str(error)


def test_longest_reference_and_longest_name_together():
    top = "T" * limits.MAX_REFERENCE_CHARACTERS
    name = long_name(limits.MAX_NAME_BYTES)
    assert opened(forged(parts(name, top=top))).top == top


def test_depth_at_the_limit_and_one_past_it():
    depth = limits.MAX_PATH_DEPTH
    opened(forged(parts("/".join("d" * depth))))
    assert "it has 33 parts" in str(refused(forged(parts("/".join("d" * (depth + 1))))))


def test_part_of_a_name_at_the_limit_and_one_past_it():
    opened(forged(parts("é" * 127 + "x")))
    assert "a part has 256 bytes" in str(refused(forged(parts("é" * 128))))


def test_a_directory_larger_than_one_piece_is_read_in_pieces():
    # 2,000 headers of some 1,100 bytes: more than the 1 MiB that is read at once.
    names = [f"{number:04}{long_name(1_000)}" for number in range(2_000)]
    archive = opened(forged(parts(*names)))
    assert [member.name for member in archive.members] == names
