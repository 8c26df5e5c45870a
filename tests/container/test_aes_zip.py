from __future__ import annotations

import io
import itertools
import random
import shutil
import subprocess
import tracemalloc
from pathlib import Path

import pytest
import pyzipper
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container.aes_zip import (
    decrypt_pack,
    encrypt_pack,
    is_encrypted,
    read_passphrase,
)
from evidpack.container.zip_reader import read_archive
from evidpack.errors import ContainerError, SealError, UsageError
from tests.container.archives import Part, changed, forged, written

PASSPHRASE = "ABCD-EFGH-JKLM-NPQR-STUV-WXYZ-2345"
OTHER = "ABCD-EFGH-JKLM-NPQR-STUV-WXYZ-2346"
SALT = bytes(range(16))


def encrypted(data: bytes, *, passphrase: str = PASSPHRASE, salt: bytes = SALT) -> bytes:
    target = io.BytesIO()
    total = encrypt_pack(io.BytesIO(data), len(data), target, passphrase=passphrase, salt=salt)
    assert total == len(target.getvalue())
    return target.getvalue()


def decrypted(data: bytes, *, passphrase: str = PASSPHRASE) -> bytes:
    target = io.BytesIO()
    size = decrypt_pack(io.BytesIO(data), target, passphrase=passphrase, path="pack.aes.zip")
    assert size == len(target.getvalue())
    return target.getvalue()


def refused(data: bytes, *, passphrase: str = PASSPHRASE) -> ContainerError:
    """The refusal; nothing may have been decrypted by then."""
    target = io.BytesIO()
    with pytest.raises(ContainerError) as caught:
        decrypt_pack(io.BytesIO(data), target, passphrase=passphrase, path="pack.aes.zip")
    assert target.getvalue() == b""
    assert caught.value.path == "pack.aes.zip"
    return caught.value


# What comes out is what went in


@pytest.mark.parametrize("size", [0, 1, 15, 16, 17, 65_535, 65_536, 65_537, 200_000])
def test_decrypts_what_was_encrypted(size: int):
    data = random.Random(size).randbytes(size)
    assert decrypted(encrypted(data)) == data


@settings(max_examples=40, deadline=None)  # the machine may be busy
@given(st.binary(max_size=3_000), st.binary(min_size=16, max_size=16))
def test_decrypts_whatever_was_encrypted_with_any_salt(data: bytes, salt: bytes):
    assert decrypted(encrypted(data, salt=salt)) == data


@pytest.mark.parametrize("size", [0, 17, 70_000])
def test_another_library_decrypts_it(size: int):
    data = random.Random(size).randbytes(size)
    with pyzipper.AESZipFile(io.BytesIO(encrypted(data))) as archive:
        archive.setpassword(PASSPHRASE.encode())
        assert archive.namelist() == ["decrypted-pack.zip"]
        assert archive.read("decrypted-pack.zip") == data


@pytest.mark.skipif(shutil.which("7z") is None, reason="7z is not installed")
def test_7z_opens_it_and_knows_a_wrong_passphrase(tmp_path: Path):
    (tmp_path / "pack.aes.zip").write_bytes(encrypted(written()))
    base = ["7z", "x", "-y", f"-o{tmp_path}", tmp_path / "pack.aes.zip"]
    done = subprocess.run([*base, f"-p{PASSPHRASE}"], capture_output=True, check=False)
    assert done.returncode == 0, done.stdout
    assert (tmp_path / "decrypted-pack.zip").read_bytes() == written()
    wrong = subprocess.run([*base, f"-p{OTHER}"], capture_output=True, check=False)
    assert wrong.returncode != 0


def test_the_pack_inside_is_read_strictly_as_any_other():
    inner = io.BytesIO(decrypted(encrypted(written())))
    assert read_archive(inner, path="pack.zip").top == "TRU-2026-05-14-A"


def test_tells_the_bytes_done():
    told: list[int] = []
    data = bytes(150_000)
    encrypt_pack(
        io.BytesIO(data),
        len(data),
        io.BytesIO(),
        passphrase=PASSPHRASE,
        salt=SALT,
        on_bytes=told.append,
    )
    assert sum(told) == 150_000
    told.clear()
    decrypt_pack(
        io.BytesIO(encrypted(data)),
        io.BytesIO(),
        passphrase=PASSPHRASE,
        path="x",
        on_bytes=told.append,
    )
    assert sum(told) == 2 * 150_000


def test_memory_is_bounded_by_a_piece(tmp_path: Path):
    plain, hidden, again = (tmp_path / name for name in ("plain", "hidden", "again"))
    plain.write_bytes(bytes(24 * limits.MIB))
    tracemalloc.start()
    try:
        with plain.open("rb") as source, hidden.open("wb") as target:
            encrypt_pack(source, 24 * limits.MIB, target, passphrase=PASSPHRASE, salt=SALT)
        with hidden.open("rb") as stream, again.open("wb") as target:
            decrypt_pack(stream, target, passphrase=PASSPHRASE, path="hidden")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 4 * limits.MIB


# Anything changed is refused before anything is decrypted


def test_refuses_every_changed_bit():
    data = encrypted(b"pack")
    for at, bit in itertools.product(range(len(data)), range(8)):
        refused(data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :])


def test_refuses_every_length_but_its_own():
    data = encrypted(b"some pack")
    for length in range(len(data)):
        refused(data[:length])
    for more in (b"\0", b"PK", data):
        refused(data + more)
        refused(more + data)


def test_a_changed_byte_of_the_ciphertext_is_told_as_such():
    data = encrypted(bytes(1_000))
    error = refused(changed(data, 500, 1, data[500] ^ 1))
    assert "the encrypted bytes are not those that were encrypted" in error.message
    assert "Nothing of it was kept" in error.hint


def test_a_wrong_passphrase_is_told_as_such():
    error = refused(encrypted(b"pack"), passphrase=OTHER)
    assert error.message == "the passphrase does not open this pack"
    assert OTHER not in str(error) + error.hint


def test_a_wrong_passphrase_whose_verifier_happens_to_fit_fails_at_the_mac():
    # Two bytes of verifier: about one wrong passphrase in 65,536 passes them (WinZip AE-2).
    data = bytearray(encrypted(b"pack"))
    data[75:77] = encrypted(b"pack", passphrase=OTHER)[75:77]
    assert "not those that were encrypted" in refused(bytes(data), passphrase=OTHER).message


def test_refuses_a_file_that_changes_between_the_passes():
    data = encrypted(bytes(300_000))

    class Changing(io.BytesIO):
        reads = 0

        def read(self, count=-1):
            piece = super().read(count)
            self.reads += len(piece) == 65_536
            return piece if self.reads < 6 or len(piece) < 65_536 else b"\1" * 65_536

    with pytest.raises(ContainerError, match="not those that were encrypted"):
        decrypt_pack(Changing(data), io.BytesIO(), passphrase=PASSPHRASE, path="x")


@pytest.mark.parametrize("at", [0, 4, 6, 8, 10, 12, 14, 18, 22, 26, 28, 30, 38])
def test_names_the_field_of_the_local_header_that_differs(at: int):
    data = encrypted(b"pack")
    error = refused(changed(data, at, 1, data[at] ^ 1))
    assert error.message.startswith("local header: ")
    assert at - 8 < error.offset <= at


def test_refuses_a_second_member():
    # AE-2 does not authenticate which members there are: the usual programs read both.
    data = encrypted(b"pack")
    extra = forged([Part(name="readme.txt", data=b"call this number")])
    assert "end record" in refused(data + extra).message
    central = data.index(b"PK\x01\x02")
    joined = data[:central] + extra[: extra.index(b"PK\x01\x02")] + data[central:-22]
    second = extra[extra.index(b"PK\x01\x02") : -22]
    size = len(second) + data.rindex(b"PK\x05\x06") - central
    end = changed(changed(changed(data[-22:], 8, 2, 2), 10, 2, 2), 12, 4, size)
    both = joined + second + changed(end, 16, 4, central + extra.index(b"PK\x01\x02"))
    with pyzipper.AESZipFile(io.BytesIO(both)) as archive:
        assert archive.namelist() == ["decrypted-pack.zip", "readme.txt"]
    error = refused(both)
    assert "is not 1: the finished pack and nothing else" in error.message


def test_refuses_another_name():
    data = encrypted(b"pack").replace(b"decrypted-pack.zip", b"decrypted-fake.zip")
    error = refused(data)
    assert error.message.startswith("central header: name")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"\x02\x00AE\x03", b"\x01\x00AE\x03"),
        (b"\x02\x00AE\x03", b"\x02\x00AE\x01"),
        (b"AE\x03\x00\x00", b"AE\x03\x08\x00"),
        (b"AE", b"XX"),
    ],
    ids=["AE-1", "128 bits", "deflated", "another vendor"],
)
def test_refuses_another_form_of_the_aes_field(old: bytes, new: bytes):
    data = encrypted(b"pack")
    assert data.count(old) == 2
    refused(data.replace(old, new))


def test_refuses_a_pack_that_is_not_encrypted():
    refused(written())


@given(st.binary(max_size=400))
def test_refuses_arbitrary_bytes(data: bytes):
    refused(data)


def test_size_at_the_limit_and_one_past_it(monkeypatch):
    data = encrypted(b"pack")
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", len(data))
    assert decrypted(encrypted(b"pack")) == b"pack"
    monkeypatch.setattr(limits, "MAX_ARCHIVE_BYTES", len(data) - 1)
    assert refused(data).message == "the archive is too large"
    with pytest.raises(ContainerError, match="limit reached: size of the archive"):
        encrypted(b"pack")


# Sources that fail


@pytest.mark.parametrize(("size", "word"), [(9, "longer"), (11, "shorter"), (100_000, "shorter")])
def test_refuses_a_source_of_another_size(size: int, word: str):
    source = io.BytesIO(bytes(10))
    with pytest.raises(SealError, match=f"became {word}"):
        encrypt_pack(source, size, io.BytesIO(), passphrase=PASSPHRASE, salt=SALT)


def test_takes_a_source_that_gives_in_parts():
    class Sluggish(io.BytesIO):
        def read(self, count=-1):
            return super().read(min(count, 1_000))

    target = io.BytesIO()
    data = random.Random(1).randbytes(70_000)
    encrypt_pack(Sluggish(data), len(data), target, passphrase=PASSPHRASE, salt=SALT)
    assert target.getvalue() == encrypted(data)


def test_says_so_when_the_source_cannot_be_read():
    class Failing(io.BytesIO):
        def read(self, count=-1):
            raise OSError(5, "Input/output error")

    with pytest.raises(SealError, match="cannot be read to encrypt it: Input/output error"):
        encrypt_pack(Failing(), 5, io.BytesIO(), passphrase=PASSPHRASE, salt=SALT)


def test_refuses_a_salt_of_another_length():
    with pytest.raises(ValueError, match="15 bytes, not 16"):
        encrypted(b"", salt=bytes(15))


# Passphrases


@pytest.mark.parametrize(
    "typed",
    [
        PASSPHRASE,
        PASSPHRASE.lower(),
        PASSPHRASE.replace("-", ""),
        f" {PASSPHRASE.replace('-', ' ')}\n",
    ],
)
def test_reads_a_passphrase_as_people_type_it(typed: str):
    assert read_passphrase(typed) == PASSPHRASE


@pytest.mark.parametrize(
    "typed",
    ["", "secret", PASSPHRASE[:-1], PASSPHRASE + "A", PASSPHRASE.replace("A", "0"), "é" * 28],
)
def test_refuses_what_is_no_passphrase_and_does_not_repeat_it(typed: str):
    with pytest.raises(UsageError, match="no passphrase of an encrypted pack") as caught:
        read_passphrase(typed)
    assert not typed or typed not in str(caught.value)
    with pytest.raises(UsageError):
        encrypted(b"", passphrase=typed)
    with pytest.raises(UsageError):
        decrypted(encrypted(b""), passphrase=typed)


# Telling them apart


@pytest.mark.parametrize(
    ("data", "answer"),
    [(encrypted(b"pack"), True), (written(), False), (b"", False), (b"PK\x03\x04", False)],
)
def test_knows_an_encrypted_pack_by_its_beginning(data: bytes, answer: bool):
    stream = io.BytesIO(data)
    stream.seek(3)
    assert is_encrypted(stream) is answer
    assert stream.tell() == 0
