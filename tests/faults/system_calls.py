"""Standing between a process and its disk: every system call of a child about some files is held
until this process has decided about it.

The kernel asks us (seccomp, SECCOMP_RET_USER_NOTIF; Linux 5.5 and later, no privilege needed), so
nothing that the child's Python, a C library or another of its threads does with those files goes
past.  We let the call go on, answer it with an error or a lie, kill the child instead, or change the
world first.  How the child writes is not our business, so these tests hold whatever function writes.
"""

from __future__ import annotations

import ctypes
import fcntl
import gc
import mmap
import os
import platform
import select
import signal
import socket
import struct
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from tests.faults.call_numbers import (
    AT_FDCWD,
    MACHINES,
    Numbered,
    is_opening,
    numbered,
    opens_for_writing,
)

# linux/prctl.h, linux/seccomp.h, linux/filter.h
_PR_SET_NO_NEW_PRIVS: Final = 38
_SET_MODE_FILTER: Final = 1
_NEW_LISTENER: Final = 1 << 3
_WAIT_KILLABLE: Final = 1 << 5
_RET_USER_NOTIF: Final = 0x7FC00000
_RET_ALLOW: Final = 0x7FFF0000
_LOAD_WORD, _JUMP_EQUAL, _RETURN = 0x20, 0x15, 0x06
_RECEIVE: Final = 0xC0502100
_SEND: Final = 0xC0182101
_GO_ON: Final = 1
_NOTICE: Final = struct.Struct("=QII iIQ 6Q")
_ANSWER: Final = struct.Struct("=QqiI")
_PATH_BYTES: Final = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A system call that is about to happen: its name and the files it is about.

    `opened_for_writing` is about calls that open.
    """

    name: str
    paths: tuple[str, ...]
    opened_for_writing: bool


@dataclass(frozen=True, slots=True)
class Kill:
    """The process dies instead of doing this call, as by SIGKILL."""


@dataclass(frozen=True, slots=True)
class Fail:
    """The call ends with this error number and does nothing."""

    number: int


@dataclass(frozen=True, slots=True)
class Signal:
    """The call is done, and the process gets this signal while it is."""

    number: int


@dataclass(frozen=True, slots=True)
class Pretend:
    """The call is not done, and answered as if it were."""


Decision = Kill | Fail | Signal | Pretend | None
Decide = Callable[[Call], Decision]


@cache
def why_not() -> str | None:
    """Why system calls cannot be held on this machine; None where they can."""
    if platform.system() != "Linux" or platform.machine() not in MACHINES:
        return f"system calls are held on Linux only, not on {platform.platform()}"
    pid = os.fork()
    if pid == 0:
        try:
            os.close(_install(frozenset({"fsync"})))
            os._exit(0)
        except OSError as error:
            os._exit(error.errno or 255)
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    return None if code == 0 else f"the kernel does not let us hold calls: {os.strerror(code)}"


def start(work: Callable[[], int], names: frozenset[str]) -> Watched:
    """Fork a child that does `work`, all its calls of these names held; it ends with the result.

    Without names nothing is held, and nothing is asked of the kernel.
    """
    ours, theirs = socket.socketpair()
    pid = os.fork()
    if pid == 0:
        code = 255
        # What is there already stays shared with the parent, and is not looked through for garbage.
        gc.freeze()
        try:
            ours.close()
            if names:
                listener = _install(names)
                socket.send_fds(theirs, [b"."], [listener])
                os.close(listener)
            theirs.close()
            code = work()
        finally:
            os._exit(code)
    theirs.close()
    with ours:
        if not names:
            return Watched(pid, None, {})
        _, descriptors, _, _ = socket.recv_fds(ours, 1, 1)
    return Watched(pid, descriptors[0], numbered(names, platform.machine()))


def _install(names: frozenset[str]) -> int:
    """Put the filter over this process and give the listener."""
    libc = ctypes.CDLL(None, use_errno=True)
    architecture, seccomp, _ = MACHINES[platform.machine()]
    if libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0):
        raise OSError(ctypes.get_errno(), "prctl")
    rules = _program(architecture, sorted(numbered(names, platform.machine())))
    code = ctypes.create_string_buffer(rules, len(rules))
    program = struct.pack("HxxxxxxP", len(rules) // 8, ctypes.addressof(code))
    for flags in (_NEW_LISTENER | _WAIT_KILLABLE, _NEW_LISTENER):
        listener: int = libc.syscall(seccomp, _SET_MODE_FILTER, flags, program)
        if listener >= 0:
            return listener
    raise OSError(ctypes.get_errno(), "seccomp")


def _program(architecture: int, numbers: list[int]) -> bytes:
    """A classic BPF program: these calls of this architecture are held, all others go on."""

    def line(code: int, value: int, yes: int = 0, no: int = 0) -> bytes:
        return struct.pack("=HBBI", code, yes, no, value)

    count = len(numbers)
    lines = [line(_LOAD_WORD, 4), line(_JUMP_EQUAL, architecture, no=count + 1)]
    lines.append(line(_LOAD_WORD, 0))
    lines += [line(_JUMP_EQUAL, number, yes=count - place) for place, number in enumerate(numbers)]
    return b"".join([*lines, line(_RETURN, _RET_ALLOW), line(_RETURN, _RET_USER_NOTIF)])


class Watched:
    """A child whose calls wait for our answer."""

    def __init__(self, pid: int, listener: int | None, calls: dict[int, Numbered]) -> None:
        self.pid = pid
        self._listener = listener
        self._calls = calls

    def serve(self, decide: Decide, *, timeout_s: float = 120.0) -> int:
        """Answer until the child has ended; its exit code, or minus the signal that killed it.

        Raises TimeoutError, and kills the child, where it makes no call and does not end.
        """
        if self._listener is None:
            return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
        try:
            while (notice := self._next(self._listener, timeout_s)) is not None:
                identity, thread, _, number, _, _, *arguments = notice
                decision = decide(self._call(thread, number, tuple(arguments)))
                self._answer(self._listener, identity, decision)
            return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
        except BaseException:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            raise
        finally:
            os.close(self._listener)

    def _next(self, listener: int, timeout_s: float) -> tuple[int, ...] | None:
        """The next call, or None once the child has ended."""
        poll = select.poll()
        poll.register(listener, select.POLLIN)
        while events := poll.poll(timeout_s * 1000):
            if not events[0][1] & select.POLLIN:
                return None
            notice = bytearray(_NOTICE.size)
            try:
                fcntl.ioctl(listener, _RECEIVE, notice)
            except OSError:
                continue  # the caller was interrupted or has died meanwhile
            return _NOTICE.unpack(notice)
        raise TimeoutError(f"no call and no end for {timeout_s} s")

    def _call(self, thread: int, number: int, arguments: tuple[int, ...]) -> Call:
        known = self._calls[number]
        paths = tuple(_path(thread, where, arguments) for where in known.arguments)
        writes = is_opening(known.name) and opens_for_writing(known.name, arguments)
        return Call(name=known.name, paths=paths, opened_for_writing=writes)

    def _answer(self, listener: int, identity: int, decision: Decision) -> None:
        if isinstance(decision, Kill):
            os.kill(self.pid, signal.SIGKILL)
            return
        if isinstance(decision, Signal):
            os.kill(self.pid, decision.number)
        if isinstance(decision, Fail):
            answer = _ANSWER.pack(identity, 0, -decision.number, 0)
        elif isinstance(decision, Pretend):
            answer = _ANSWER.pack(identity, 0, 0, 0)
        else:
            answer = _ANSWER.pack(identity, 0, 0, _GO_ON)
        try:
            fcntl.ioctl(listener, _SEND, answer)
        except FileNotFoundError:
            return  # the caller was interrupted or has died meanwhile


def _path(thread: int, where: str, arguments: tuple[int, ...]) -> str:
    """The file that an argument names, absolute; an empty text where there is none."""
    if where[0] not in "pd":
        return _descriptor(thread, arguments[int(where)])
    folder, name = f"/proc/{thread}/cwd", where
    at = AT_FDCWD
    if where[0] == "d":
        at, name = ctypes.c_int(arguments[int(where[1])]).value, where[2:]
    text = _text(thread, arguments[int(name[1:])])
    if not text:
        return _descriptor(thread, at)
    if at != AT_FDCWD:
        folder = f"/proc/{thread}/fd/{at}"
    if not text.startswith("/"):
        try:
            text = str(Path(folder).readlink() / text)
        except OSError:
            return text
    return os.path.normpath(text)


def _descriptor(thread: int, number: int) -> str:
    try:
        return str(Path(f"/proc/{thread}/fd/{ctypes.c_int(number).value}").readlink())
    except OSError:
        return ""


def _text(thread: int, address: int) -> str:
    """The text at an address of another process, up to its zero byte."""
    if not address:
        return ""
    with Path(f"/proc/{thread}/mem").open("rb", buffering=0) as memory:
        memory.seek(address)
        # Not past the page: the next one may not be there.
        data = memory.read(min(_PATH_BYTES, mmap.PAGESIZE - address % mmap.PAGESIZE))
        if b"\0" not in data:
            data += memory.read(_PATH_BYTES)
    return os.fsdecode(data.split(b"\0", 1)[0])
