"""A ledger that grows, is proved and is tampered with, in any order, against slow definitions.

The model is a list of what was added; leaves, links, tree and proofs are computed anew from it by
`tests.proof.reference`, and a line by Python's own json (RFC 8785 for the values drawn here: texts
of the basic plane, whole numbers, true, false, null).
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.commitments import field_salt, parse_entry, require_opening
from evidpack.proof.digests import chain_head, leaf_digest
from evidpack.proof.statement import ENTRY_KINDS
from evidpack.proof.tree import inclusion_path, require_consistency, require_inclusion, tree_root
from evidpack.sealing.ledger_writer import LedgerWriter
from tests.proof import reference

TEXTS = st.text(st.characters(max_codepoint=0xD7FF), max_size=8)
VALUES = st.dictionaries(
    TEXTS.filter(bool),
    st.one_of(TEXTS, st.integers(-(2**53) + 1, 2**53 - 1), st.booleans(), st.none()),
    min_size=1,
    max_size=4,
)
KEYS = st.binary(min_size=32, max_size=32)
FAR = st.integers(0, 10**6)


def canonical(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()


def salt(key: bytes, name: str) -> bytes:
    return reference.hmac_sha256(key, name.encode())[:16]


def commitment(key: bytes, name: str, value: JsonValue) -> str:
    return reference.sha(b"\x03" + salt(key, name) + canonical([name, value])).hex()


def line_of(kind: str, values: dict[str, JsonValue], key: bytes) -> bytes:
    fields = {name: commitment(key, name, value) for name, value in values.items()}
    return canonical({"fields": fields, "kind": kind})


def refused(check: object, **arguments: object) -> None:
    """The check must refuse these arguments."""
    try:
        check(**arguments)  # type: ignore[operator]
    except ProofError:
        return
    raise AssertionError(f"accepted: {arguments}")


class LedgerMachine(RuleBasedStateMachine):
    """Adds entries; proves, opens and tampers with any of those that are there."""

    def __init__(self) -> None:
        super().__init__()
        self.writer = LedgerWriter(Path(tempfile.gettempdir()))
        self.added: list[tuple[str, dict[str, JsonValue], bytes]] = []
        self.lines: list[bytes] = []

    def teardown(self) -> None:
        self.writer.__exit__(None, None, None)

    @property
    def leaves(self) -> list[bytes]:
        return [reference.sha(b"\x00" + line) for line in self.lines]

    @rule(kind=st.sampled_from(ENTRY_KINDS), values=VALUES, key=KEYS)
    def add(self, kind: str, values: dict[str, JsonValue], key: bytes) -> None:
        number = self.writer.add(kind, values, key)
        assert number == len(self.added)
        self.added.append((kind, values, key))
        self.lines.append(line_of(kind, values, key))

    @rule(kind=st.text(max_size=6).filter(lambda kind: kind not in ENTRY_KINDS), values=VALUES)
    def what_cannot_be_added_changes_nothing(self, kind: str, values: dict[str, JsonValue]) -> None:
        for bad in ((kind, values, bytes(32)), ("file", {}, bytes(32)), ("file", values, b"")):
            refused(lambda bad=bad: self.writer.add(*bad))

    @invariant()
    def head_root_and_counts_are_those_of_the_definitions(self) -> None:
        leaves = self.leaves
        assert self.writer.chain_head == reference.chain(leaves) == chain_head(leaves)
        assert self.writer.count == len(leaves)
        kinds = [kind for kind, _, _ in self.added]
        assert self.writer.counts == {kind: kinds.count(kind) for kind in ENTRY_KINDS}
        if leaves:
            assert self.writer.tree_root() == reference.root(leaves) == tree_root(leaves)

    @precondition(lambda self: self.lines)
    @rule()
    def the_files_are_the_lines_and_the_openings(self) -> None:
        for stream in (self.writer.ledger, self.writer.openings):
            stream.seek(0)
        assert self.writer.ledger.read() == b"".join(line + b"\n" for line in self.lines)
        expected = [
            canonical({"key": key.hex(), "values": values}) for _, values, key in self.added
        ]
        assert self.writer.openings.read() == b"".join(line + b"\n" for line in expected)

    @precondition(lambda self: self.lines)
    @rule(far=FAR, flip=FAR)
    def one_leaf_is_proved_and_no_other(self, far: int, flip: int) -> None:
        leaves = self.leaves
        index, size, root = far % len(leaves), len(leaves), reference.root(leaves)
        path = inclusion_path(leaves, index)
        assert path == reference.path(index, leaves)
        good = {"leaf": leaves[index], "index": index, "size": size, "path": path, "root": root}
        require_inclusion(**good)  # type: ignore[arg-type]
        others = [
            {"leaf": flipped(leaves[index], flip)},
            {"root": flipped(root, flip)},
            {"path": [*path, bytes(32)]},
            {"index": size},
        ]
        if path:
            place = flip % len(path)
            wrong = [*path[:place], flipped(path[place], flip), *path[place + 1 :]]
            others += [{"path": wrong}, {"path": path[:-1]}]
        other = (index + 1) % size
        if leaves[other] != leaves[index]:
            others.append({"index": other})
        for change in others:
            refused(require_inclusion, **(good | change))

    @precondition(lambda self: self.lines)
    @rule(far=FAR, flip=FAR)
    def an_earlier_ledger_is_a_beginning_and_no_other_is(self, far: int, flip: int) -> None:
        leaves = self.leaves
        first = 1 + far % len(leaves)
        path = reference.proof(first, leaves)
        good = {
            "first": first,
            "second": len(leaves),
            "first_root": reference.root(leaves[:first]),
            "second_root": reference.root(leaves),
            "path": path,
        }
        require_consistency(**good)  # type: ignore[arg-type]
        changed = [flipped(leaves[0], flip), *leaves[1:first]]
        for change in (
            {"first_root": reference.root(changed)},
            {"second_root": flipped(reference.root(leaves), flip)},
            {"path": [*path, bytes(32)]},
            {"first": 0},
            {"first": len(leaves) + 1},
        ):
            refused(require_consistency, **(good | change))

    @precondition(lambda self: self.lines)
    @rule(far=FAR, other=st.one_of(TEXTS, st.integers(0, 9)))
    def a_field_opens_to_what_was_sealed_and_to_nothing_else(
        self, far: int, other: JsonValue
    ) -> None:
        number = far % len(self.lines)
        _, values, key = self.added[number]
        entry = parse_entry(self.lines[number], path="ledger", number=number)
        name, value = sorted(values.items(), key=lambda item: item[0])[far % len(values)]
        assert field_salt(key, name) == salt(key, name)
        require_opening(entry, name, salt(key, name), value, number=number)
        wrong = [(name + "x", salt(key, name), value), (name, flipped(salt(key, name), far), value)]
        if canonical(other) != canonical(value):
            wrong.append((name, salt(key, name), other))
        for each in wrong:
            refused(lambda each=each: require_opening(entry, *each, number=number))

    @precondition(lambda self: len(self.lines) > 1)
    @rule(far=FAR, how=st.sampled_from(["drop", "repeat", "swap", "change"]))
    def a_ledger_tampered_with_has_another_head_and_another_root(self, far: int, how: str) -> None:
        place = far % (len(self.lines) - 1)
        lines = list(self.lines)
        if how == "drop":
            del lines[place]
        elif how == "repeat":
            lines.insert(place, lines[place])
        elif how == "swap":
            lines[place], lines[place + 1] = lines[place + 1], lines[place]
        else:
            lines[place] = lines[place][:-1] + b" }"
        if lines == self.lines:
            return  # two equal lines were swapped
        leaves = [leaf_digest(line) for line in lines]
        assert chain_head(leaves) != self.writer.chain_head
        assert tree_root(leaves) != self.writer.tree_root()


def flipped(data: bytes, far: int) -> bytes:
    """The bytes with one bit turned over."""
    changed = bytearray(data)
    changed[far % len(data)] ^= 1 << far % 8
    return bytes(changed)


LedgerMachine.TestCase.settings = settings(
    max_examples=80, stateful_step_count=40, deadline=None, derandomize=True
)
TestLedger = LedgerMachine.TestCase
