from __future__ import annotations

import hashlib
import threading

from evidpack.container.copying import Digester


def test_digests_members_whose_pieces_follow_one_another():
    digester = Digester()
    members = [[bytes([number]) * 5_000 for _ in range(number)] for number in range(6)]
    digests = []
    for pieces in members:
        digest = digester.begin()
        for piece in pieces:
            digest.update(memoryview(piece))
        digests.append(digest)
    assert [digest.result() for digest in digests] == [
        hashlib.sha256(b"".join(pieces)).digest() for pieces in members
    ]
    digester.close()


def test_a_result_can_be_asked_for_after_the_thread_has_ended():
    before = threading.active_count()
    digester = Digester()
    digest = digester.begin()
    for number in range(50):
        digest.update(memoryview(bytes([number]) * 10_000))
    assert threading.active_count() == before + 1
    digester.close()
    assert threading.active_count() == before
    whole = b"".join(bytes([number]) * 10_000 for number in range(50))
    assert digest.result() == digest.result() == hashlib.sha256(whole).digest()


def test_without_pieces_there_is_no_thread():
    before = threading.active_count()
    digester = Digester()
    assert digester.begin().result() == hashlib.sha256().digest()
    assert threading.active_count() == before
    digester.close()


def test_a_buffer_is_free_once_few_enough_pieces_are_open():
    digester = Digester()
    buffers = [bytearray(20_000) for _ in range(3)]
    digest = digester.begin()
    expected = hashlib.sha256()
    for number in range(200):
        buffer = buffers[number % 3]
        digester.wait(at_most_open=2)
        buffer[:] = bytes([number]) * len(buffer)
        digest.update(memoryview(buffer))
        expected.update(buffer)
    assert digest.result() == expected.digest()
    digester.close()
