"""An archive written member by member, read back, and spoiled at any place, in any order.

Good ones must be what Python's own zipfile reads; of spoiled ones none may be accepted, whatever
zipfile makes of them.
"""

from __future__ import annotations

import io
import zipfile

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from evidpack.container.hashing import hash_members
from evidpack.container.zip_reader import read_archive
from evidpack.container.zip_writer import ZipWriter
from evidpack.errors import ContainerError, ExportChangedError
from tests.container.archives import TOP

PARTS = st.text(
    st.characters(categories=["Ll", "Lu", "Nd"], max_codepoint=0x17F), min_size=1, max_size=6
)
NAMES = st.lists(PARTS, min_size=1, max_size=3).map("/".join)
DATA = st.one_of(
    st.binary(max_size=60), st.binary(min_size=1, max_size=4).map(lambda b: b * 90_000)
)
FAR = st.integers(0, 10**9)


def read(data: bytes) -> dict[str, bytes]:
    """The members, every byte of them checked, in order."""
    archive = read_archive(io.BytesIO(data), path="test.zip")
    hash_members(archive)
    return {member.name: archive.open(member).read() for member in archive.members}


class ContainerMachine(RuleBasedStateMachine):
    """Writes archives; `members` is what the one that is being written must hold."""

    @initialize()
    def begin(self) -> None:
        self.stream = io.BytesIO()
        self.writer = ZipWriter(self.stream, TOP)
        self.members: dict[str, bytes] = {}
        self.finished: bytes | None = None
        self.before: bytes | None = None

    @precondition(lambda self: self.finished is None)
    @rule(name=NAMES, data=DATA, streamed=st.booleans())
    def add(self, name: str, data: bytes, streamed: bool) -> None:
        try:
            if streamed:
                self.writer.add_stream(name, len(data), io.BytesIO(data))
            else:
                self.writer.add_bytes(name, data)
        except ContainerError:
            # A twin, a folder of another, or a device's name; the archive goes on without it.
            return
        assert name not in self.members
        self.members[name] = data

    @precondition(lambda self: self.members)
    @rule(far=FAR, how=st.sampled_from(["same", "upper", "below", "parent"]))
    def a_twin_is_refused_and_changes_nothing(self, far: int, how: str) -> None:
        if self.finished is not None:
            return
        name = sorted(self.members)[far % len(self.members)]
        twin = {
            "same": name,
            "upper": name.upper() if name.upper().casefold() == name.casefold() else name,
            "below": name + "/x",
            "parent": "../" + name,
        }[how]
        try:
            self.writer.add_bytes(twin, b"")
        except ContainerError:
            return
        raise AssertionError(twin)

    @precondition(lambda self: self.members and self.finished is None)
    @rule()
    def finish(self) -> None:
        total = self.writer.finish()
        self.finished = self.stream.getvalue()
        assert len(self.finished) == total

    @precondition(lambda self: self.finished is not None)
    @rule()
    def both_readers_give_what_was_written(self) -> None:
        assert self.finished is not None
        assert list(read(self.finished).items()) == list(self.members.items())
        with zipfile.ZipFile(io.BytesIO(self.finished)) as other:
            assert other.testzip() is None
            found = {info.filename: other.read(info) for info in other.infolist()}
        assert found == {f"{TOP}/{name}": data for name, data in self.members.items()}

    @precondition(lambda self: self.finished is not None)
    @rule()
    def the_same_members_give_the_same_bytes(self) -> None:
        stream = io.BytesIO()
        writer = ZipWriter(stream, TOP)
        for name, data in self.members.items():
            writer.add_stream(name, len(data), io.BytesIO(data))
        writer.finish()
        assert stream.getvalue() == self.finished

    @precondition(lambda self: self.finished is not None)
    @rule(
        how=st.sampled_from(
            ["flip", "cut", "insert", "delete", "double", "swap", "append", "prefix"]
        ),
        far=FAR,
        length=st.integers(1, 64),
        byte=st.integers(1, 255),
    )
    def nothing_spoiled_is_accepted(self, how: str, far: int, length: int, byte: int) -> None:
        data = self.finished
        assert data is not None
        # Half the places are in the directory and the end record, where the structure is.
        at = far % len(data) if far % 2 else len(data) - 1 - far % min(len(data), 300)
        piece = data[at : at + length]
        spoiled = {
            "flip": data[:at] + bytes([data[at] ^ byte]) + data[at + 1 :],
            "cut": data[:at],
            "insert": data[:at] + bytes([byte]) * length + data[at:],
            "delete": data[:at] + data[at + length :],
            "double": data[:at] + piece + data[at:],
            "swap": data[:at]
            + data[at + length : at + 2 * length]
            + piece
            + data[at + 2 * length :],
            "append": data + bytes([byte]) * length,
            "prefix": bytes([byte]) * length + data,
        }[how]
        if spoiled == data:
            return
        try:
            read(spoiled)
        except ContainerError:
            return
        raise AssertionError((how, at, length, byte))

    @precondition(lambda self: self.finished is not None)
    @rule(far=FAR)
    def a_member_put_behind_the_end_is_refused(self, far: int) -> None:
        """What zipfile accepts: two whole archives, one behind the other."""
        assert self.finished is not None
        two = (self.before or self.finished) + self.finished
        with zipfile.ZipFile(io.BytesIO(two)) as other:
            assert other.testzip() is None
        try:
            read(two)
        except ContainerError:
            pass
        else:
            raise AssertionError(far)

    @precondition(lambda self: self.finished is not None)
    @rule()
    def begin_another(self) -> None:
        finished = self.finished
        self.begin()
        self.before = finished

    @precondition(lambda self: self.finished is None)
    @rule(name=PARTS, data=st.binary(min_size=1, max_size=8), more=st.booleans())
    def a_source_of_another_length_ends_the_archive(
        self, name: str, data: bytes, more: bool
    ) -> None:
        try:
            self.writer.add_stream(name, len(data) + (-1 if more else 1), io.BytesIO(data))
        except ContainerError:
            return  # the name
        except ExportChangedError:
            pass
        else:
            raise AssertionError(name)
        try:
            self.writer.finish()
        except ContainerError:
            self.begin()
            return
        raise AssertionError("finished in spite of a broken member")


ContainerMachine.TestCase.settings = settings(
    max_examples=100, stateful_step_count=40, deadline=None, derandomize=True
)
TestContainer = ContainerMachine.TestCase
