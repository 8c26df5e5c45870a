from __future__ import annotations

import base64
import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.proof.digests import sha256
from evidpack.proof.tree import (
    EMPTY_ROOT,
    TreeBuilder,
    inclusion_path,
    require_consistency,
    require_inclusion,
    tree_root,
)
from tests.proof import reference
from tests.vectors import vectors

DIGESTS = st.binary(min_size=32, max_size=32)
TREES = st.lists(DIGESTS, min_size=1, max_size=40)
CASES_OF_EACH_FOLDER = 98


def numbered(count: int) -> list[bytes]:
    return [sha256(str(number).encode()) for number in range(count)]


def cases(folder: str) -> list[tuple[str, dict[str, Any]]]:
    """transparency-dev/merkle testdata (vectors/README.md), by name relative to the folder."""
    top = vectors("merkle") / folder
    files = sorted(top.rglob("*.json"))
    assert len(files) == CASES_OF_EACH_FOLDER
    return [(str(file.relative_to(top)), json.loads(file.read_text())) for file in files]


def decoded(texts: list[str] | None) -> list[bytes]:
    return [base64.b64decode(text) for text in texts or []]


def accepts(check: Callable[[], None]) -> bool:
    try:
        check()
    except ProofError:
        return False
    return True


def test_inclusion_proofs_of_the_vectors_are_judged_alike() -> None:
    accepted = 0
    for name, case in cases("inclusion"):
        verdict = accepts(
            lambda case=case: require_inclusion(  # type: ignore[misc]
                leaf=base64.b64decode(case["leafHash"] or ""),
                index=case["leafIdx"],
                size=case["treeSize"],
                path=decoded(case["proof"]),
                root=base64.b64decode(case["root"] or ""),
            ),
        )
        assert verdict is not case["wantErr"], name
        accepted += verdict
    assert accepted == 6


def test_consistency_proofs_of_the_vectors_are_judged_alike() -> None:
    # Nine of the cases have a first tree of size 0, and all nine must be refused.  RFC 9162
    # §2.1.4.1 defines a consistency proof for m > 0 only, so they say nothing about the RFC: an
    # implementation may also take "0 leaves, no path" as trivially consistent.  We refuse.
    accepted = of_size_zero = 0
    for name, case in cases("consistency"):
        verdict = accepts(
            lambda case=case: require_consistency(  # type: ignore[misc]
                first=case["size1"],
                second=case["size2"],
                first_root=base64.b64decode(case["root1"] or ""),
                second_root=base64.b64decode(case["root2"] or ""),
                path=decoded(case["proof"]),
            ),
        )
        assert verdict is not case["wantErr"], name
        accepted += verdict
        of_size_zero += case["size1"] == 0
    assert (accepted, of_size_zero) == (6, 9)


@given(st.lists(DIGESTS, max_size=70))
def test_both_ways_to_a_root_are_the_definition(leaves: list[bytes]) -> None:
    builder = TreeBuilder()
    for number, leaf in enumerate(leaves):
        assert builder.count == number
        assert builder.root() == reference.root(leaves[:number])
        builder.append(leaf)
    assert builder.count == len(leaves)
    assert builder.root() == tree_root(leaves) == tree_root(iter(leaves)) == reference.root(leaves)


@pytest.mark.parametrize("count", [*range(18), 31, 32, 33, 127, 128, 129, 1000])
def test_roots_of_every_shape_of_tree(count: int) -> None:
    leaves = numbered(count)
    builder = TreeBuilder()
    for leaf in leaves:
        builder.append(leaf)
    assert builder.root() == tree_root(leaves) == reference.root(leaves)


def test_the_root_of_nothing_is_the_digest_of_nothing() -> None:
    assert TreeBuilder().root() == tree_root([]) == EMPTY_ROOT == sha256(b"")  # RFC 9162 §2.1.1


def test_the_builder_keeps_no_more_than_one_digest_for_each_bit_of_the_count() -> None:
    builder = TreeBuilder()
    for number in range(1, 1025):
        builder.append(bytes(32))
        assert len(builder._subtrees) == number.bit_count()


@given(TREES, st.data())
def test_an_inclusion_path_is_the_definition_and_proves(
    leaves: list[bytes], data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, len(leaves) - 1))
    path = inclusion_path(leaves, index)
    assert path == reference.path(index, leaves)
    require_inclusion(
        leaf=leaves[index], index=index, size=len(leaves), path=path, root=tree_root(leaves)
    )


@pytest.mark.parametrize("size", range(1, 20))
def test_a_leaf_proves_at_its_own_index_and_size_only(size: int) -> None:
    leaves = [sha256(bytes([number])) for number in range(size)]
    root = tree_root(leaves)
    for index in range(size):
        path = inclusion_path(leaves, index)
        require_inclusion(leaf=leaves[index], index=index, size=size, path=path, root=root)
        for other in range(size):
            if other != index:
                with pytest.raises(ProofError, match=f"leaf {other} of {size}"):
                    require_inclusion(
                        leaf=leaves[index], index=other, size=size, path=path, root=root
                    )


@settings(max_examples=200)
@given(TREES, st.data())
def test_a_changed_inclusion_proof_is_refused(leaves: list[bytes], data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(leaves) - 1))
    parts = [leaves[index], tree_root(leaves), *reference.path(index, leaves)]
    place = data.draw(st.integers(0, len(parts) - 1))
    bit = data.draw(st.integers(0, 255))
    flipped = int.from_bytes(parts[place]) ^ (1 << bit)
    parts[place] = flipped.to_bytes(32)
    leaf, root, *path = parts
    with pytest.raises(ProofError, match="does not lead to the root") as caught:
        require_inclusion(leaf=leaf, index=index, size=len(leaves), path=path, root=root)
    assert caught.value.expected == root.hex()
    assert caught.value.observed != root.hex()


def test_steps_too_many_or_too_few_are_refused_as_such() -> None:
    leaves = numbered(5)
    root = tree_root(leaves)
    path = inclusion_path(leaves, 2)
    assert len(path) == 3
    for short in (path[:-1], path[:1], []):
        with pytest.raises(ProofError, match="leaf 2 of 5 is too short") as caught:
            require_inclusion(leaf=leaves[2], index=2, size=5, path=short, root=root)
        assert caught.value.observed == f"{len(short)} digests"
    with pytest.raises(ProofError, match="leaf 2 of 5 is too long") as caught:
        require_inclusion(leaf=leaves[2], index=2, size=5, path=[*path, bytes(32)], root=root)
    assert (caught.value.expected, caught.value.observed) == ("3 digests", "4 digests")
    with pytest.raises(ProofError, match="leaf 0 of 1 is too long"):
        require_inclusion(leaf=leaves[0], index=0, size=1, path=[bytes(32)], root=leaves[0])


@pytest.mark.parametrize(("index", "size"), [(-1, 5), (5, 5), (6, 5), (0, 0), (0, -1), (-1, 0)])
def test_a_leaf_that_the_tree_does_not_have_is_refused(index: int, size: int) -> None:
    with pytest.raises(ProofError, match="no leaf of that number") as caught:
        require_inclusion(leaf=bytes(32), index=index, size=size, path=[], root=bytes(32))
    assert caught.value.observed == str(index)
    expected = f"0 to {size - 1}" if size > 0 else "no number, since the tree is empty"
    assert caught.value.expected == expected


@pytest.mark.parametrize(("index", "size"), [(-1, 5), (5, 5), (0, 0)])
def test_no_path_is_made_for_a_leaf_that_is_not_there(index: int, size: int) -> None:
    with pytest.raises(ProofError, match="no leaf of that number"):
        inclusion_path(numbered(size), index)


def test_digests_of_another_length_are_refused_wherever_they_stand() -> None:
    short, leaves = bytes(31), numbered(3)
    with pytest.raises(ProofError, match=r"^leaf 1 is not a SHA-256 digest"):
        tree_root([leaves[0], short])
    with pytest.raises(ProofError, match=r"^leaf 2 is not a SHA-256 digest"):
        inclusion_path([*leaves[:2], short], 0)
    builder = TreeBuilder()
    with pytest.raises(ProofError, match=r"^leaf 0 is not a SHA-256 digest"):
        builder.append(short)
    assert builder.count == 0
    with pytest.raises(ProofError, match=r"^leaf 1 is not"):
        require_inclusion(leaf=short, index=1, size=3, path=[], root=bytes(32))
    with pytest.raises(ProofError, match=r"^step 1 of the inclusion proof of leaf 0 of 3 is not"):
        require_inclusion(
            leaf=leaves[0], index=0, size=3, path=[leaves[1], short], root=tree_root(leaves)
        )
    with pytest.raises(ProofError, match=r"^step 0 of the consistency proof from 2 to 3 leaves"):
        require_consistency(
            first=2, second=3, first_root=bytes(32), second_root=bytes(32), path=[short]
        )


def test_moving_the_cut_between_two_steps_does_not_pass() -> None:
    # With lengths unchecked, leaf ‖ sibling could be cut elsewhere and give the same node.
    leaves = numbered(2)
    joined = leaves[0] + leaves[1]
    with pytest.raises(ProofError, match="leaf 0 is not a SHA-256 digest"):
        require_inclusion(
            leaf=joined[:31], index=0, size=2, path=[joined[31:]], root=tree_root(leaves)
        )


def test_every_earlier_tree_is_consistent_with_every_later_one() -> None:
    leaves = numbered(34)
    for second in range(1, 35):
        for first in range(1, second + 1):
            require_consistency(
                first=first,
                second=second,
                first_root=reference.root(leaves[:first]),
                second_root=reference.root(leaves[:second]),
                path=reference.proof(first, leaves[:second]),
            )


@settings(max_examples=200)
@given(TREES, st.data())
def test_a_changed_consistency_proof_is_refused(leaves: list[bytes], data: st.DataObject) -> None:
    first = data.draw(st.integers(1, len(leaves)))
    parts = [
        reference.root(leaves[:first]),
        reference.root(leaves),
        *reference.proof(first, leaves),
    ]
    place = data.draw(st.integers(0, len(parts) - 1))
    bit = data.draw(st.integers(0, 255))
    parts[place] = (int.from_bytes(parts[place]) ^ (1 << bit)).to_bytes(32)
    with pytest.raises(ProofError, match=r"does not lead to the (first|second) root"):
        require_consistency(
            first=first,
            second=len(leaves),
            first_root=parts[0],
            second_root=parts[1],
            path=parts[2:],
        )


@given(TREES, st.data())
def test_a_consistency_proof_of_another_length_is_refused(
    leaves: list[bytes], data: st.DataObject
) -> None:
    first = data.draw(st.integers(1, len(leaves)))
    path = reference.proof(first, leaves)
    roots = {"first_root": reference.root(leaves[:first]), "second_root": reference.root(leaves)}
    what = f"from {first} to {len(leaves)} leaves is too"
    with pytest.raises(ProofError, match=f"{what} long") as caught:
        require_consistency(first=first, second=len(leaves), path=[*path, bytes(32)], **roots)
    assert caught.value.expected == f"{len(path)} digests"
    if path:
        with pytest.raises(ProofError, match=f"{what} short") as caught:
            require_consistency(first=first, second=len(leaves), path=path[:-1], **roots)
        assert caught.value.observed == f"{len(path) - 1} digests"


def test_a_history_rewritten_after_the_first_tree_was_published_is_refused() -> None:
    leaves = numbered(7)
    rewritten = [*leaves[:2], bytes(32), *leaves[3:]]
    with pytest.raises(ProofError, match="from 4 to 7 leaves does not lead to the second root"):
        require_consistency(
            first=4,
            second=7,
            first_root=reference.root(leaves[:4]),
            second_root=reference.root(rewritten),
            path=reference.proof(4, rewritten),
        )
    with pytest.raises(ProofError, match="from 3 to 7 leaves does not lead to the first root"):
        require_consistency(
            first=3,
            second=7,
            first_root=reference.root(leaves[:3]),
            second_root=reference.root(rewritten),
            path=reference.proof(3, rewritten),
        )


@pytest.mark.parametrize(("first", "second"), [(0, 0), (0, 1), (0, 8), (-1, 4), (5, 4), (1, 0)])
def test_sizes_for_which_consistency_is_not_defined_are_refused(first: int, second: int) -> None:
    with pytest.raises(ProofError, match=f"from {first} to {second} leaves is not defined"):
        require_consistency(
            first=first, second=second, first_root=EMPTY_ROOT, second_root=EMPTY_ROOT, path=[]
        )
