from __future__ import annotations

import re
from pathlib import Path

import cryptography_vectors
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.proof import digests
from evidpack.proof.digests import (
    FIRST_LINK,
    chain_head,
    groups_of_four,
    leaf_digest,
    link_digest,
    node_digest,
    require_digest,
    sha256,
)
from tests.proof import reference

# NIST CAVP response files for SHA-256, as carried by the package cryptography-vectors.
SHA2 = Path(cryptography_vectors.__file__).parent / "hashes" / "SHA2"
DIGESTS = st.binary(min_size=32, max_size=32)


def nist_messages(name: str) -> list[tuple[bytes, str]]:
    text = (SHA2 / name).read_text()
    found = re.findall(r"Len = (\d+)\s+Msg = ([0-9a-f]+)\s+MD = ([0-9a-f]{64})", text)
    return [(bytes.fromhex(message)[: int(bits) // 8], digest) for bits, message, digest in found]


@pytest.mark.parametrize(("name", "count"), [("SHA256ShortMsg.rsp", 65), ("SHA256LongMsg.rsp", 64)])
def test_sha256_gives_the_values_of_nist(name: str, count: int) -> None:
    messages = nist_messages(name)
    assert len(messages) == count
    for message, digest in messages:
        assert sha256(message).hex() == digest, f"{len(message)} bytes"


def test_sha256_follows_the_pseudorandom_chain_of_nist() -> None:
    # SHAVS (NIST 2014) §6.4: 1,000 digests, each over the three before it, between two outputs.
    text = (SHA2 / "SHA256Monte.rsp").read_text()
    seed = bytes.fromhex(re.findall(r"Seed = ([0-9a-f]{64})", text)[0])
    outputs = re.findall(r"COUNT = \d+\s+MD = ([0-9a-f]{64})", text)
    assert len(outputs) == 100
    for number, output in enumerate(outputs[:10]):
        a = b = c = seed
        for _ in range(1_000):
            a, b, c = b, c, sha256(a + b + c)
        assert c.hex() == output, f"COUNT = {number}"
        seed = c


def test_every_use_has_a_prefix_of_its_own() -> None:
    prefixes = [digests.LEAF, digests.NODE, digests.LINK, digests.FIELD, digests.TILE]
    assert prefixes == [bytes([byte]) for byte in range(5)]  # docs/format.md, Proof


def test_prefixes_keep_a_leaf_from_standing_for_a_node_or_a_link() -> None:
    left, right = sha256(b"left"), sha256(b"right")
    results = {
        leaf_digest(left + right),
        node_digest(left, right),
        link_digest(left, right),
        sha256(left + right),
    }
    assert len(results) == 4
    assert node_digest(left, right) == reference.sha(b"\x01" + left + right)
    assert link_digest(left, right) == reference.sha(b"\x02" + left + right)
    assert leaf_digest(b"") == reference.sha(b"\x00")


@given(st.lists(DIGESTS, max_size=20))
def test_chain_head_is_the_last_link(leaves: list[bytes]) -> None:
    assert chain_head(leaves) == reference.chain(leaves)
    assert chain_head(iter(leaves)) == reference.chain(leaves)


def test_chain_of_nothing_is_the_first_link_of_zeros() -> None:
    assert chain_head([]) == FIRST_LINK == bytes(32)


@given(st.lists(DIGESTS, min_size=2, max_size=12, unique=True), st.data())
def test_chain_head_changes_with_order_omission_and_repetition(
    leaves: list[bytes], data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(leaves) - 2))
    swapped = leaves.copy()
    swapped[place], swapped[place + 1] = swapped[place + 1], swapped[place]
    without = leaves[:place] + leaves[place + 1 :]
    twice = leaves[: place + 1] + leaves[place:]
    heads = {chain_head(one) for one in (leaves, swapped, without, twice)}
    assert len(heads) == 4


@pytest.mark.parametrize("length", [0, 16, 31, 33, 64])
def test_a_leaf_of_another_length_is_refused_by_number(length: int) -> None:
    with pytest.raises(ProofError, match="leaf 1 is not a SHA-256 digest") as caught:
        chain_head([bytes(32), bytes(length)])
    assert caught.value.expected == "32 bytes"
    assert caught.value.observed == f"{length} bytes"


def test_require_digest_gives_back_what_it_accepts() -> None:
    digest = sha256(b"x")
    assert require_digest(digest, "it") is digest


def test_digests_are_printed_in_sixteen_groups_of_four() -> None:
    # SHA-256 of "abc": FIPS 180-4 example, published by NIST with the standard.
    assert groups_of_four(sha256(b"abc")) == (
        "ba78 16bf 8f01 cfea 4141 40de 5dae 2223 b003 61a3 9617 7a9c b410 ff61 f200 15ad"
    )
