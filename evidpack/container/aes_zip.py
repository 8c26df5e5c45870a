"""Encrypted packs: writing one, and decrypting one without keeping a byte that is not authentic.

AE-2 authenticates the bytes of a member, but neither its name nor which members there are, and
makes keys with few iterations.  So there is one member with a fixed name, every other byte of the
file follows from its length, the passphrase is generated and strong by itself, and the MAC over
the ciphertext is checked in a first pass before the second decrypts anything.
"""

from __future__ import annotations

import hmac
import re
from collections.abc import Callable, Iterator
from typing import BinaryIO, Final

from evidpack import limits
from evidpack.container import aes_format as fmt
from evidpack.container import zip_format
from evidpack.container.archive import ByteSource
from evidpack.container.output import Output
from evidpack.container.winzip_aes import (
    MAC_BYTES,
    PIECE_BYTES,
    SALT_BYTES,
    VERIFIER_BYTES,
    PackCipher,
)
from evidpack.errors import ContainerError, SealError, UsageError

# 32 characters that are not taken for one another: 5 bits each (disclosure/passphrase.py draws them).
_ALPHABET: Final = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
_GROUP_CHARACTERS: Final = 4
_FORM: Final = re.compile(f"[{_ALPHABET}]{{4}}(?:-[{_ALPHABET}]{{4}}){{6}}", re.ASCII)


def read_passphrase(text: str) -> str:
    """A passphrase as somebody typed it, in its one form: case, spaces and hyphens are free.

    Raises:
        UsageError: it is none; the message does not repeat it.
    """
    passphrase = _grouped(re.sub(r"[\s-]", "", text).upper())
    if not _FORM.fullmatch(passphrase):
        raise UsageError(
            "this is no passphrase of an encrypted pack",
            expected="seven groups of four characters, without I, O, 0 and 1",
            observed="another form",
            hint="Compare it character by character with the one you were sent.",
        )
    return passphrase


def _grouped(characters: str) -> str:
    size = _GROUP_CHARACTERS
    return "-".join(characters[at : at + size] for at in range(0, len(characters), size))


def is_encrypted(stream: BinaryIO) -> bool:
    """Whether a file begins as an encrypted pack does; the stream is put back to its start."""
    stream.seek(0)
    head = stream.read(10)
    stream.seek(0)
    return head[:4] == zip_format.LOCAL_SIGNATURE and head[8:] == fmt.METHOD.to_bytes(2, "little")


def encrypt_pack(
    source: BinaryIO,
    size: int,
    target: BinaryIO,
    *,
    passphrase: str,
    salt: bytes,
    on_bytes: Callable[[int], None] | None = None,
) -> int:
    """Write a finished pack as an encrypted one; the size of what was written.

    Args:
        source: the finished pack, read from where it stands to its end.
        size: its bytes.
        target: empty, writable; stays open.
        passphrase: as `read_passphrase` gives it.
        salt: 16 random bytes, never used before.
        on_bytes: called with the number of bytes of each piece.

    Raises:
        UsageError: the passphrase is not of the generated form.
        ContainerError: the encrypted pack would be too large.
        SealError: `source` does not hold `size` bytes, or `target` cannot be written to.
    """
    passphrase = read_passphrase(passphrase)
    if len(salt) != SALT_BYTES:
        raise ValueError(f"the salt has {len(salt)} bytes, not {SALT_BYTES}")
    layout = fmt.layout_for_size(size)
    if layout.total > limits.MAX_ARCHIVE_BYTES:
        raise ContainerError(
            "limit reached: size of the archive",
            expected=f"at most {limits.MAX_ARCHIVE_BYTES}",
            observed=str(layout.total),
        )
    cipher = PackCipher(passphrase.encode("ascii"), salt)
    output = Output(target)
    output.write(layout.local + salt + cipher.verifier)
    for piece in _pieces(source, size):
        output.write(cipher.encrypt(piece))
        if on_bytes is not None:
            on_bytes(len(piece))
    output.write(cipher.mac() + layout.central + layout.end)
    output.finish()
    return layout.total


def _pieces(source: BinaryIO, size: int) -> Iterator[bytes]:
    """The source in pieces of one size, the last one apart."""
    left = size
    while left:
        wanted = min(left, PIECE_BYTES)
        piece = _read(source, wanted)
        while len(piece) < wanted and (more := _read(source, wanted - len(piece))):
            piece += more
        if len(piece) < wanted:
            raise SealError("the pack became shorter while it was being encrypted")
        left -= wanted
        yield piece
    if _read(source, 1):
        raise SealError("the pack became longer while it was being encrypted")


def _read(source: BinaryIO, count: int) -> bytes:
    try:
        return source.read(count)
    except OSError as error:
        raise SealError(
            f"the pack cannot be read to encrypt it: {error.strerror or error}",
            hint="Check the disk that holds it, and make the pack again.",
        ) from error


def decrypt_pack(
    stream: BinaryIO,
    target: BinaryIO,
    *,
    passphrase: str,
    path: str,
    on_bytes: Callable[[int], None] | None = None,
) -> int:
    """Check an encrypted pack, then decrypt it; the size of the pack inside.

    Memory is bounded by one piece.  What stands in `target` after an error must not be used: the
    caller removes it, as `place.Placement` does.

    Args:
        stream: the encrypted pack; seekable.
        target: empty, writable; stays open.
        passphrase: as `read_passphrase` gives it.
        path: of the encrypted pack, for messages.
        on_bytes: called with the number of bytes of each piece, in both passes.

    Raises:
        UsageError: the passphrase is not of the generated form.
        ContainerError: the file is not an encrypted pack of ours, the passphrase is wrong, or its
            bytes are not those that were encrypted.
        SealError: `target` cannot be written to.
    """
    passphrase = read_passphrase(passphrase)
    source = ByteSource(stream, path=path)
    layout = _checked_layout(source)
    salt_at = len(layout.local)
    salt = source.read(salt_at, SALT_BYTES)
    first, second = (PackCipher(passphrase.encode("ascii"), salt) for _ in range(2))
    verifier = source.read(salt_at + SALT_BYTES, VERIFIER_BYTES)
    if not hmac.compare_digest(verifier, first.verifier):
        raise ContainerError(
            "the passphrase does not open this pack",
            path=path,
            offset=salt_at + SALT_BYTES,
            hint="Check that the passphrase belongs to this pack; if it does, ask for a new copy.",
        )
    for piece in _ciphertext(source, layout, on_bytes):
        first.count(piece)
    _require_mac(source, layout, first)
    output = Output(target)
    for piece in _ciphertext(source, layout, on_bytes):
        output.write(second.decrypt(piece))
    # The file may have changed between the passes.
    _require_mac(source, layout, second)
    output.finish()
    return layout.size


def _ciphertext(
    source: ByteSource, layout: fmt.AesLayout, on_bytes: Callable[[int], None] | None
) -> Iterator[bytes]:
    """The ciphertext in pieces."""
    at = len(layout.local) + SALT_BYTES + VERIFIER_BYTES
    stop = at + layout.size
    while at < stop:
        piece = source.read(at, min(PIECE_BYTES, stop - at))
        at += len(piece)
        yield piece
        if on_bytes is not None:
            on_bytes(len(piece))


def _require_mac(source: ByteSource, layout: fmt.AesLayout, cipher: PackCipher) -> None:
    at = layout.central_at - MAC_BYTES
    if not hmac.compare_digest(source.read(at, MAC_BYTES), cipher.mac()):
        raise ContainerError(
            "the encrypted bytes are not those that were encrypted with this passphrase",
            path=source.path,
            offset=at,
            hint="The file was damaged or changed; ask for a new copy. Nothing of it was kept.",
        )


def _checked_layout(source: ByteSource) -> fmt.AesLayout:
    """Compare every header with the one that the length of the file asks for."""
    path = source.path
    if source.size > limits.MAX_ARCHIVE_BYTES:
        raise ContainerError(
            "the archive is too large",
            path=path,
            expected=f"at most {limits.MAX_ARCHIVE_BYTES} bytes",
            observed=f"{source.size} bytes",
        )
    layout = fmt.layout_for_total(source.size)
    if layout is None:
        raise ContainerError(
            "no encrypted pack has a file of this size",
            path=path,
            expected=f"at least {fmt.layout_for_size(0).total} bytes",
            observed=f"{source.size} bytes",
        )
    at = layout.central_at + len(layout.central)
    end = layout.end[-zip_format.END.size :]
    before = layout.end[: -zip_format.END.size]
    record, locator = before[: zip_format.END64.size], before[zip_format.END64.size :]
    for where, fields, expected, begins in (
        ("end record", fmt.END_FIELDS, end, at + len(before)),
        ("ZIP64 locator", fmt.LOCATOR_FIELDS, locator, at + len(record)),
        ("ZIP64 end record", fmt.END64_FIELDS, record, at),
        ("central header", fmt.CENTRAL_FIELDS, layout.central, layout.central_at),
        ("local header", fmt.LOCAL_FIELDS, layout.local, 0),
    ):
        observed = source.read(begins, len(expected))
        if observed != expected:
            zip_format.refuse_difference(
                where, fields, expected=expected, observed=observed, at=begins, path=path
            )
    return layout
