"""No shell, no eval, no pickle, no network but one module: read from every source file's syntax tree."""

from __future__ import annotations

import ast
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from evidpack.verifying.report import Verdict
from tests.bundles import verified
from tests.sealed_days import SealedDay

PACKAGE: Final = Path(__file__).parents[2] / "evidpack"
SOURCES: Final = sorted(PACKAGE.rglob("*.py"))

# Modules that run programs or code, read objects that run code, or expand entities.
NOWHERE: Final = frozenset(
    {
        "subprocess", "pty", "popen2", "commands", "code", "codeop", "runpy", "pickle", "cPickle",
        "dill", "marshal", "shelve", "dbm", "yaml", "xml", "multiprocessing", "webbrowser",
        "antigravity", "turtle", "tkinter",
    }
)  # fmt: skip
NETWORK: Final = frozenset(
    {
        "socket", "ssl", "http", "urllib", "ftplib", "smtplib", "poplib", "imaplib", "telnetlib",
        "xmlrpc", "socketserver", "asyncio", "selectors", "requests", "httpx", "aiohttp", "urllib3",
    }
)  # fmt: skip
NETWORK_ONLY_IN: Final = "trust/tsa_client.py"
# What a module may use that no other may, and why.
ALONE: Final = {
    ("ctypes", "container/naming.py"),  # renameat2, which Python does not offer
    ("importlib.import_module", "cli/main.py"),  # of a table of our own commands
}
CALLS: Final = frozenset(
    {
        "eval", "exec", "compile", "__import__", "os.system", "os.popen", "os.startfile",
        "importlib.import_module", "builtins.eval", "builtins.exec", "types.FunctionType",
    }
)  # fmt: skip
CALLS_BEGIN: Final = ("os.exec", "os.spawn", "os.posix_spawn", "os.fork")


def offences(source: str, place: str) -> Iterator[str]:
    """Everything in a source text that does not belong in this house."""
    for node in ast.walk(ast.parse(source)):
        for name in _imported(node):
            top = name.partition(".")[0]
            if top in NOWHERE or (top == "ctypes" and (top, place) not in ALONE):
                yield f"{place}:{node.lineno} imports {name}"  # type: ignore[attr-defined]
            if top in NETWORK and place != NETWORK_ONLY_IN:
                yield f"{place}:{node.lineno} imports {name}"  # type: ignore[attr-defined]
        if isinstance(node, ast.Call):
            called = _dotted(node.func)
            forbidden = called in CALLS or called.startswith(CALLS_BEGIN)
            if forbidden and (called, place) not in ALONE:
                yield f"{place}:{node.lineno} calls {called}"
            if any(one.arg == "shell" for one in node.keywords):
                yield f"{place}:{node.lineno} asks for a shell"


def _imported(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom) and not node.level:
        return [f"{node.module}.{alias.name}" for alias in node.names]
    return []


def _dotted(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return f"{_dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def test_no_source_file_runs_programs_or_code_or_speaks_to_a_network() -> None:
    assert len(SOURCES) > 200
    found = [
        offence
        for path in SOURCES
        for offence in offences(
            path.read_text(encoding="utf-8"), path.relative_to(PACKAGE).as_posix()
        )
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        "import subprocess",
        "from os import path\nimport pickle as p",
        "from xml.etree import ElementTree",
        "import urllib.request",
        "from http import client",
        "import socket",
        "import ctypes",
        "eval('1')",
        "exec('1')",
        "__import__('os')",
        "import os\nos.system('ls')",
        "import os\nos.execv('x', [])",
        "import importlib\nimportlib.import_module('x')",
        "run('ls', shell=True)",
        "def f():\n    import marshal\n",
    ],
)
def test_each_of_these_would_be_told(source: str) -> None:
    assert len(list(offences(source, "checks/x.py"))) == 1


def test_the_time_stamp_client_alone_may_speak_and_only_there(
    monkeypatch: pytest.MonkeyPatch, sealed_day: SealedDay
) -> None:
    """Verifying with every step opens no connection."""
    assert list(offences("import http.client\nimport socket", NETWORK_ONLY_IN)) == []

    def refuse(*_args: object, **_more: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    assert verified(sealed_day.bundle, sealed_day.trust).verdict is Verdict.VERIFIED
