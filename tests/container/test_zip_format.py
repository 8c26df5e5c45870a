from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.container import zip_format as fmt
from evidpack.errors import ContainerError
from tests.container import archives

NAME = b"T/a"
U32, U64 = 2**32 - 1, 2**64 - 1


def fields(layout, data: bytes) -> dict[str, int]:
    """A header's fields by name, by APPNOTE's own widths."""
    found, at = {}, 0
    for name, width in layout:
        found[name] = int.from_bytes(data[at : at + width], "little")
        at += width
    return found


@pytest.mark.parametrize(
    ("size", "offset", "stated", "stated_offset", "local", "central"),
    [
        (0, 0, 0, 0, [], []),
        (U32 - 1, U32 - 1, U32 - 1, U32 - 1, [], []),
        (U32, 5, U32, 5, [U32, U32], [U32, U32]),
        (2**40, 5, U32, 5, [2**40, 2**40], [2**40, 2**40]),
        (7, U32, U32, U32, [7, 7], [7, 7, U32]),
        (7, 2**40, U32, U32, [7, 7], [7, 7, 2**40]),
        (U32, 2**40, U32, U32, [U32, U32], [U32, U32, 2**40]),
    ],
)
def test_zip64_stands_where_size_or_position_needs_it(
    size, offset, stated, stated_offset, local, central
):
    # APPNOTE 6.3.10, sections 4.4.8, 4.4.9, 4.4.16 and 4.5.3.
    zip64 = 45 if local else 20
    head = fmt.local_header(NAME, size=size, crc32=1, offset=offset)
    found = fields(archives.LOCAL, head)
    assert (found["size"], found["stored"], found["version"]) == (stated, stated, zip64)
    assert extra(head[30 + len(NAME) :]) == local
    entry = fmt.central_header(NAME, size=size, crc32=1, offset=offset)
    found = fields(archives.CENTRAL, entry)
    assert (found["size"], found["stored"], found["version"]) == (stated, stated, zip64)
    assert (found["position"], found["made_by"]) == (stated_offset, 0x0300 + zip64)
    assert extra(entry[46 + len(NAME) :]) == central


def extra(data: bytes) -> list[int]:
    """The values of a lone ZIP64 extra field."""
    if not data:
        return []
    assert data[:2] == b"\1\0"
    assert int.from_bytes(data[2:4], "little") == len(data) - 4
    return [int.from_bytes(data[at : at + 8], "little") for at in range(4, len(data), 8)]


@pytest.mark.parametrize(
    ("count", "size", "offset", "zip64"),
    [
        (1, 1, 1, False),
        (0xFFFE, U32 - 1, U32 - 1, False),
        (0xFFFF, 1, 1, True),
        (1, U32, 1, True),
        (1, 1, U32, True),
        (70_000, 2**33, 2**34, True),
    ],
)
def test_zip64_end_records_stand_where_needed(count: int, size: int, offset: int, zip64: bool):
    # APPNOTE 6.3.10, sections 4.3.14 to 4.3.16, 4.4.21 to 4.4.24.
    records = fmt.end_records(count=count, size=size, offset=offset)
    assert len(records) == 22 + 76 * zip64
    end = fields(archives.END, records[-22:])
    assert end["count"] == end["count_here"] == min(count, 0xFFFF)
    assert (end["size"], end["position"]) == (min(size, U32), min(offset, U32))
    if zip64:
        record = fields(archives.END64, records[:56])
        assert (record["signature"], record["record_size"]) == (0x06064B50, 44)
        assert (record["count"], record["size"], record["position"]) == (count, size, offset)
        locator = fields(archives.LOCATOR, records[56:76])
        assert locator == {
            "signature": 0x07064B50, "disk": 0, "position": offset + size, "disks": 1,
        }  # fmt: skip


@pytest.mark.parametrize(
    ("table", "layout"),
    [
        (fmt.LOCAL_FIELDS, archives.LOCAL),
        (fmt.CENTRAL_FIELDS, archives.CENTRAL),
        (fmt.END_FIELDS, archives.END),
        (fmt.END64_FIELDS, archives.END64),
        (fmt.LOCATOR_FIELDS, archives.LOCATOR),
    ],
)
def test_the_fields_that_faults_are_named_by_lie_where_they_should(table, layout):
    assert [field.size for field in table] == [width for _, width in layout]
    assert [field.offset for field in table] == [
        sum(width for _, width in layout[:number]) for number in range(len(layout))
    ]


@given(st.integers(0, 2**20), st.integers(0, U64), st.integers(0, U64), st.data())
def test_any_difference_is_told_with_its_place(crc32, size, offset, draw):
    expected = fmt.local_header(NAME, size=size, crc32=crc32, offset=offset)
    at = draw.draw(st.integers(0, len(expected) - 1))
    observed = bytearray(expected)
    observed[at] ^= draw.draw(st.integers(1, 255))
    with pytest.raises(ContainerError) as caught:
        fmt.refuse_difference(
            "header",
            fmt.LOCAL_FIELDS,
            expected=expected,
            observed=bytes(observed),
            at=100,
            path="x",
        )
    error = caught.value
    assert error.path == "x"
    assert error.expected != error.observed
    assert error.offset <= 100 + at < error.offset + 16
    assert error.message.startswith("header: ")


def test_a_header_that_is_cut_off_is_told():
    expected = fmt.local_header(NAME, size=1, crc32=0, offset=0)
    with pytest.raises(ContainerError, match="name or ZIP64 extra field") as caught:
        fmt.refuse_difference(
            "header", fmt.LOCAL_FIELDS, expected=expected, observed=expected[:31], at=0, path="x"
        )
    assert (caught.value.offset, caught.value.observed) == (31, "nothing")
