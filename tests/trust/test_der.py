"""DER alone is read and written."""

from __future__ import annotations

import contextlib
import datetime as dt
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import TrustError
from evidpack.trust import der


@given(st.binary(max_size=70_000))
def test_an_element_has_the_shortest_length(content: bytes) -> None:
    encoded = der.element(b"\x04", content)
    assert der.split(encoded, what="x", path=None) == (encoded,)
    assert encoded.endswith(content)


@pytest.mark.parametrize(
    ("size", "header"),
    [
        (0, "0400"),
        (127, "047f"),
        (128, "048180"),
        (255, "0481ff"),
        (256, "04820100"),
        (65_535, "0482ffff"),
        (65_536, "0483010000"),
    ],
)
def test_lengths_by_x690(size: int, header: str) -> None:
    assert der.element(b"\x04", bytes(size)).hex()[: len(header)] == header


@given(st.lists(st.binary(max_size=40), max_size=10))
def test_split_undoes_joining(parts: list[bytes]) -> None:
    encoded = [der.element(b"\x04", part) for part in parts]
    assert der.split(b"".join(encoded), what="x", path=None) == tuple(encoded)


def test_split_keeps_tags_of_more_than_one_byte() -> None:
    encoded = bytes.fromhex("9f8101020500")
    assert der.split(encoded, what="x", path=None) == (encoded,)


@pytest.mark.parametrize("data", ["04", "0401", "048001", "0480000", "3080020101000"])
def test_split_refuses_what_is_not_der(data: str) -> None:
    with pytest.raises(TrustError, match="the list is not in the one form that is accepted"):
        der.split(
            bytes.fromhex(data.ljust(len(data) + len(data) % 2, "0")), what="the list", path=None
        )


@given(st.binary(max_size=200))
def test_any_bytes_end_in_our_own_error_or_a_structure(data: bytes) -> None:
    with contextlib.suppress(TrustError):  # anything else escapes and fails
        der.decode(der.ContentInfo, data, what="x", path="p")


def test_deep_nesting_is_refused_without_a_crash() -> None:
    data = b""
    for _ in range(5_000):
        data = der.element(b"\x30", data)
    with pytest.raises(TrustError, match="form that is accepted"):
        der.decode(der.ContentInfo, data, what="x", path=None)


def test_a_long_length_is_refused_without_memory() -> None:
    with pytest.raises(TrustError, match="form that is accepted"):
        der.decode(der.ContentInfo, bytes.fromhex("3084ffffffff0609"), what="x", path=None)


@pytest.mark.parametrize(
    ("encoded", "moment"),
    [
        (b"\x17\x0d260514160000Z", dt.datetime(2026, 5, 14, 16, tzinfo=dt.UTC)),
        (b"\x17\x0d500101000000Z", dt.datetime(1950, 1, 1, tzinfo=dt.UTC)),
        (b"\x18\x0f20510101000000Z", dt.datetime(2051, 1, 1, tzinfo=dt.UTC)),
    ],
)
def test_times(encoded: bytes, moment: dt.datetime) -> None:
    assert der.decode_time(encoded, what="x", path=None) == moment


@pytest.mark.parametrize(
    "encoded",
    [
        b"\x17\x0b2605141600Z",
        b"\x17\x0d260514160060Z",
        b"\x17\x0d261314160000Z",
        b"\x17\x11260514160000+0100",
        b"\x18\x0e20510101000000",
        b"\x04\x00",
        b"",
        b"\x18\x1120510101000000.0Z",
    ],
)
def test_times_that_are_not_der(encoded: bytes) -> None:
    with pytest.raises(TrustError, match="form that is accepted"):
        der.decode_time(encoded, what="x", path=None)


def test_attributes_are_sorted_as_a_set_of_must_be() -> None:
    values = {"1.2.3.4": b"\x05\x00", "1.2.3": b"\x05\x00"}
    encoded = der.encode_attributes(values)
    assert encoded == der.encode_attributes(dict(reversed(values.items())))
    assert encoded[:1] == b"\x31"


def test_a_large_set_of_attributes_is_written_whole() -> None:
    encoded = der.encode_attributes({"1.2.3": der.element(b"\x04", bytes(300))})
    assert der.split(encoded, what="x", path=None) == (encoded,)


def test_only_two_modules_know_the_library_for_asn1() -> None:
    """The declarative ASN.1 of cryptography may change; it is kept in one place."""
    code = (
        "import pathlib, evidpack.trust as t\n"
        "root = pathlib.Path(t.__file__).parents[1]\n"
        "print(sorted(p.name for p in root.rglob('*.py') if 'hazmat import asn1' in p.read_text()"
        " or 'hazmat.asn1' in p.read_text()))"
    )
    shown = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert shown.stdout.strip() == "['der.py', 'der_timestamps.py']"
