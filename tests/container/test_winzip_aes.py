from __future__ import annotations

import hashlib
import hmac

import pytest
from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.container.winzip_aes import PackCipher

SALT = bytes(range(16))


def slow(passphrase: bytes, salt: bytes, data: bytes) -> tuple[bytes, bytes, bytes]:
    """WinZip AE-2 spelled out, block by block: (verifier, ciphertext, MAC)."""
    keys = hashlib.pbkdf2_hmac("sha1", passphrase, salt, 1_000, 66)
    hidden = bytearray()
    for number in range(0, len(data), 16):
        counter = (number // 16 + 1).to_bytes(16, "little")
        encryptor = Cipher(algorithms.AES(keys[:32]), modes.ECB()).encryptor()
        stream = encryptor.update(counter) + encryptor.finalize()
        hidden += bytes(a ^ b for a, b in zip(data[number : number + 16], stream, strict=False))
    mac = hmac.new(keys[32:64], bytes(hidden), "sha1").digest()[:10]
    return keys[64:], bytes(hidden), mac


@settings(max_examples=50, deadline=None)
@given(st.binary(max_size=5_000))
def test_agrees_with_a_slow_reference(data: bytes):
    cipher = PackCipher(b"passphrase", SALT)
    verifier, hidden, mac = slow(b"passphrase", SALT, data)
    assert cipher.verifier == verifier
    assert cipher.encrypt(data) == hidden
    assert cipher.mac() == mac


@pytest.mark.parametrize("cut", [0, 16, 4_096, 65_536])
def test_pieces_of_whole_blocks_join_up(cut: int):
    data = hashlib.shake_128(b"data").digest(70_003)
    whole, pieces, back = (PackCipher(b"p", SALT) for _ in range(3))
    hidden = pieces.encrypt(data[:cut]) + pieces.encrypt(data[cut:])
    assert hidden == whole.encrypt(data)
    assert pieces.mac() == whole.mac()
    assert back.decrypt(hidden[:cut]) + back.decrypt(hidden[cut:]) == data
    assert back.mac() == whole.mac()


def test_counting_alone_gives_the_same_mac():
    cipher, counter = PackCipher(b"p", SALT), PackCipher(b"p", SALT)
    counter.count(cipher.encrypt(b"some bytes"))
    assert counter.mac() == cipher.mac()


def test_keys_depend_on_passphrase_and_salt():
    one = PackCipher(b"p", SALT).encrypt(bytes(16))
    assert one != PackCipher(b"q", SALT).encrypt(bytes(16))
    assert one != PackCipher(b"p", SALT[::-1]).encrypt(bytes(16))
