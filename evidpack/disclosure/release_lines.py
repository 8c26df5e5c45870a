"""The lines of a release log: what each says, written and read (docs/release-log.md).

A line is canonical JSON of two members: `statement`, an object, and `signature`, the detached CMS
signature over the canonical JSON of that object in base64.  Each statement gives its number, the
SHA-256 of the line before it (without its line feed; null for the first), the time and by whom it
was written.
"""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.disclosure.receipts import Receipt, receipt_of
from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.members import Members
from evidpack.proof.statement import FORMAT_VERSION

MAX_TEXT_CHARACTERS: Final = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """A pack that was made. Digests are 32 bytes.

    `pack` is the SHA-256 of the plain pack, `encrypted` that of the encrypted one or None,
    `statement` that of its disclosure statement, `origin` that of the seal statement, `contents`
    the digest that the acknowledgement code on its index is derived from.
    """

    reference: str
    pack: bytes
    encrypted: bytes | None
    statement: bytes
    origin: bytes
    contents: bytes
    day: str
    case: str
    recipient: str
    issue: int

    def to_json(self) -> dict[str, JsonValue]:
        """The members that say what was made."""
        return {
            "case": self.case,
            "contents": self.contents.hex(),
            "day": self.day,
            "encrypted": None if self.encrypted is None else self.encrypted.hex(),
            "issue": self.issue,
            "origin": self.origin.hex(),
            "pack": self.pack.hex(),
            "recipient": self.recipient,
            "reference": self.reference,
            "statement": self.statement.hex(),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledgement:
    """A code read back: for which pack, by whom, how (post, telephone, …), and when."""

    pack: bytes
    code: str
    who: str
    how: str
    when: datetime

    def to_json(self) -> dict[str, JsonValue]:
        """The members that say what was acknowledged."""
        return {
            "code": self.code,
            "how": self.how,
            "pack": self.pack.hex(),
            "when": self.when.isoformat(),
            "who": self.who,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedReceipt:
    """A receipt that the recipient signed: its exact bytes and the detached CMS signature."""

    content: bytes
    signature: bytes

    @property
    def receipt(self) -> Receipt:
        """What it says."""
        return receipt_of(self.content, path="the receipt")

    @property
    def pack(self) -> bytes:
        """The pack it is for."""
        return self.receipt.pack

    def to_json(self) -> dict[str, JsonValue]:
        """The members that hold it."""
        return {
            "content": base64.b64encode(self.content).decode(),
            "receipt_signature": base64.b64encode(self.signature).decode(),
        }


Said = Release | Acknowledgement | SignedReceipt
_TYPES: Final = {Release: "release", Acknowledgement: "acknowledgement", SignedReceipt: "receipt"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One line. `previous` is the digest of the line before, `at` aware, `raw` without line feed."""

    number: int
    previous: bytes | None
    at: datetime
    by: str
    said: Said
    signature: bytes
    raw: bytes = b""

    def statement_bytes(self) -> bytes:
        """The canonical JSON that is signed."""
        return canonical_bytes(self._statement())

    def _statement(self) -> dict[str, JsonValue]:
        return {
            **self.said.to_json(),
            "at": self.at.isoformat(),
            "by": self.by,
            "number": self.number,
            "previous": None if self.previous is None else self.previous.hex(),
            "type": _TYPES[type(self.said)],
            "version": FORMAT_VERSION,
        }

    def to_bytes(self) -> bytes:
        """The canonical JSON of the line, without line feed."""
        return canonical_bytes(
            {
                "signature": base64.b64encode(self.signature).decode(),
                "statement": self._statement(),
            }
        )


def parse_log_line(line: bytes, *, path: str, number: int) -> LogLine:
    """Read one line strictly; `number` is the line's, from 1. Raises ProofError with both."""
    try:
        members = Members(
            parse_canonical(line, path=path, line=number), path=path, where="the line"
        )
        signature = _base64(members, "signature")
        inner = Members(members.take("statement"), path=path, where="the statement of the line")
        members.finish()
        return _parse_statement(inner, signature, line)
    except ProofError as error:
        error.path, error.line = path, number
        raise


def _parse_statement(inner: Members, signature: bytes, raw: bytes) -> LogLine:
    kind = inner.choice("type", tuple(_TYPES.values()))
    if inner.integer("version") != FORMAT_VERSION:
        raise inner.wrong("version", f"version {FORMAT_VERSION}, the one this evidpack knows")
    found = LogLine(
        number=inner.integer("number"),
        previous=inner.optional_digest("previous"),
        at=inner.time("at"),
        by=_text(inner, "by"),
        said=_parse_said(kind, inner),
        signature=signature,
        raw=raw,
    )
    inner.finish()
    return found


def _parse_said(kind: str, inner: Members) -> Said:
    if kind == "release":
        return Release(
            reference=_text(inner, "reference"),
            pack=inner.digest("pack"),
            encrypted=inner.optional_digest("encrypted"),
            statement=inner.digest("statement"),
            origin=inner.digest("origin"),
            contents=inner.digest("contents"),
            day=_text(inner, "day"),
            case=_text(inner, "case"),
            recipient=_text(inner, "recipient"),
            issue=inner.integer("issue"),
        )
    if kind == "acknowledgement":
        return Acknowledgement(
            pack=inner.digest("pack"),
            code=_text(inner, "code"),
            who=_text(inner, "who"),
            how=_text(inner, "how"),
            when=inner.time("when"),
        )
    content = _base64(inner, "content")
    receipt_of(content, path=inner.path)
    return SignedReceipt(content=content, signature=_base64(inner, "receipt_signature"))


def _text(members: Members, name: str) -> str:
    value = members.text(name)
    if not value.strip() or len(value) > MAX_TEXT_CHARACTERS:
        raise members.wrong(name, f"1 to {MAX_TEXT_CHARACTERS} characters")
    return value


def _base64(members: Members, name: str) -> bytes:
    text = members.text(name)
    try:
        data = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise members.wrong(name, "base64 (RFC 4648 §4)") from error
    if base64.b64encode(data).decode() != text:
        raise members.wrong(name, "base64 with its unused bits zero (RFC 4648 §3.5)")
    return data
