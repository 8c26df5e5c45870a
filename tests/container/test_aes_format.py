from __future__ import annotations

import struct
import zipfile

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from evidpack.container import zip_format
from evidpack.container.aes_format import OVERHEAD_BYTES, layout_for_size, layout_for_total
from tests.container import archives

FULL32 = 2**32 - 1
# Where the end records, then the extra fields, come to need ZIP64.
EDGES = (FULL32 - OVERHEAD_BYTES - 59, FULL32 - OVERHEAD_BYTES)


@given(
    st.one_of(
        st.integers(0, 2**41), st.sampled_from(EDGES).flatmap(lambda n: st.integers(n - 3, n + 3))
    )
)
@example(0)
def test_a_size_and_its_total_belong_together(size: int):
    layout = layout_for_size(size)
    found = layout_for_total(layout.total)
    assert found == layout


def test_every_total_near_the_edges_belongs_to_one_size_or_none():
    for edge in EDGES:
        sizes = range(edge - 200, edge + 200)
        totals = [layout_for_size(size).total for size in sizes]
        assert len(set(totals)) == len(totals)
        for total in range(totals[0], totals[-1] + 1):
            layout = layout_for_total(total)
            assert (layout is not None) == (total in totals)


@pytest.mark.parametrize("total", [0, 1, layout_for_size(0).total - 1])
def test_no_pack_makes_a_file_so_short(total: int):
    assert layout_for_total(total) is None


@pytest.mark.parametrize(
    ("size", "extra", "records"),
    [
        (0, 11, 22),
        (EDGES[0] - 1, 11, 22),
        (EDGES[0], 11, 98),
        (EDGES[1] - 1, 11, 98),
        (EDGES[1], 31, 98),
        (2**40, 31, 98),
    ],
)
def test_zip64_stands_where_it_is_needed(size: int, extra: int, records: int):
    layout = layout_for_size(size)
    assert len(layout.local) == 30 + 18 + extra
    assert len(layout.central) == 46 + 18 + extra
    assert len(layout.end) == records
    assert layout.local[30:] == layout.central[46:]
    assert layout.local[-11:] == struct.pack("<HHH2sBH", 0x9901, 7, 2, b"AE", 3, 0)


@pytest.mark.parametrize("size", [5, EDGES[1], 2**40])
def test_pythons_zipfile_decodes_the_central_header(size: int):
    layout = layout_for_size(size)
    info = zipfile.ZipInfo("decrypted-pack.zip")
    fixed = struct.unpack("<4s4B4HL2L5H2L", layout.central[:46])
    info.CRC, info.compress_size, info.file_size, info.header_offset = *fixed[9:12], fixed[18]
    info.extra = layout.central[46 + 18 :]
    info._decodeExtra()
    assert (info.file_size, info.compress_size) == (size, size + OVERHEAD_BYTES)


def test_the_fixed_values():
    layout = layout_for_size(5)
    local = dict(
        zip(
            [name for name, _ in archives.LOCAL],
            zip_format.LOCAL.unpack(layout.local[:30]),
            strict=True,
        )
    )
    assert local == {
        "signature": b"PK\x03\x04", "version": 51, "flags": 0x0801, "method": 99, "time": 0,
        "date": 0x21, "crc": 0, "stored": 33, "size": 5, "name_length": 18, "extra_length": 11,
    }  # fmt: skip
