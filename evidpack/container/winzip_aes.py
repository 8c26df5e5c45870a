"""The cipher of an AES ZIP: WinZip's AE-2 with 256 bits, from `cryptography` and `hashlib`.

Source: WinZip, "AES Encryption Information: Encryption Specification AE-1 and AE-2", version 1.04.
Keys by PBKDF2 (RFC 8018, section 5.2) with HMAC-SHA-1 and 1,000 iterations; AES in counter mode
with a little-endian counter that begins at 1; HMAC-SHA-1 over the ciphertext, cut to 10 bytes.
"""

from __future__ import annotations

import hashlib
import hmac
import sys
from array import array
from typing import Final

from cryptography.hazmat.primitives.ciphers import Cipher
from cryptography.hazmat.primitives.ciphers.algorithms import AES256
from cryptography.hazmat.primitives.ciphers.modes import ECB

SALT_BYTES: Final = 16
VERIFIER_BYTES: Final = 2
MAC_BYTES: Final = 10
ITERATIONS: Final = 1_000
PIECE_BYTES: Final = 64 * 1024

_KEY_BYTES: Final = 32
_BLOCK_BYTES: Final = 16


class PackCipher:
    """The keys that a passphrase and a salt give, and one pass over the bytes with them.

    Attributes:
        verifier: two bytes by which most wrong passphrases are told before anything is read.
    """

    def __init__(self, passphrase: bytes, salt: bytes) -> None:
        length = 2 * _KEY_BYTES + VERIFIER_BYTES
        keys = hashlib.pbkdf2_hmac("sha1", passphrase, salt, ITERATIONS, length)
        self.verifier = keys[2 * _KEY_BYTES :]
        # ECB only to make the key stream: the counter mode there is counts the other way round.
        self._encryptor = Cipher(AES256(keys[:_KEY_BYTES]), ECB()).encryptor()  # noqa: S305
        self._mac = hmac.new(keys[_KEY_BYTES : 2 * _KEY_BYTES], digestmod="sha1")
        self._counter = 1

    def encrypt(self, piece: bytes) -> bytes:
        """The next piece, encrypted and counted into the MAC.

        Every piece but the last must hold whole blocks of 16 bytes; so for `decrypt`.
        """
        hidden = self._mixed(piece)
        self._mac.update(hidden)
        return hidden

    def decrypt(self, piece: bytes) -> bytes:
        """The next piece, counted into the MAC and decrypted."""
        self._mac.update(piece)
        return self._mixed(piece)

    def count(self, piece: bytes) -> None:
        """Count a piece of ciphertext into the MAC, decrypting nothing."""
        self._mac.update(piece)

    def mac(self) -> bytes:
        """The MAC over all ciphertext so far, 10 bytes."""
        return self._mac.digest()[:MAC_BYTES]

    def _mixed(self, piece: bytes) -> bytes:
        """The piece XOR its part of the key stream."""
        size = len(piece)
        blocks = -(-size // _BLOCK_BYTES)
        # Two 64-bit words a block: the counter, little-endian, and zero.
        counters = array("Q", bytes(blocks * _BLOCK_BYTES))
        counters[0::2] = array("Q", range(self._counter, self._counter + blocks))
        self._counter += blocks
        stream = self._encryptor.update(_little_endian(counters))[:size]
        mixed = int.from_bytes(stream, "little") ^ int.from_bytes(piece, "little")
        return mixed.to_bytes(size, "little")


def _little_endian(words: array[int]) -> bytes:
    if sys.byteorder == "big":  # pragma: no cover - tests run on little-endian machines
        words.byteswap()
    return words.tobytes()
