"""The disclosure statement: what the discloser of a pack signs (docs/format.md, Pack).

It pins every other file of the pack and names the seal that the pack comes from, the case, the
recipient and the issue before it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.errors import ProofError
from evidpack.limits import MAX_DISCLOSURE_STATEMENT_BYTES
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import MAX_EXHIBIT, Became
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.members import Members
from evidpack.proof.statement import FORMAT_VERSION, NEWER_RELEASE, require_reference

TYPE: Final = "disclosure"
MAX_ISSUE: Final = 100_000
MAX_TEXT_CHARACTERS: Final = 500

_OUTCOMES: Final = tuple(became.value for became in Became)
_PACK: Final = re.compile(r"pack-([1-9][0-9]{0,5})-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierVerification:
    """A full verification of the bundle before this pack was made, as the discloser states it.

    `report` is the SHA-256 of the report's bytes (32 bytes), `verdict` its verdict, `at` its time.
    """

    report: bytes
    verdict: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class DisclosureStatement:
    """What the discloser signs. Digests are 32 bytes; times are aware.

    `pack` names the archive's folder.  `origin` is the SHA-256 of the seal statement, `previous`
    that of the disclosure statement of the issue before, None for the first.  `release_log` is the
    digest of the last line of the release log, None where there was none.  `exhibits` is the highest
    exhibit number given so far.
    """

    pack: str
    day: str
    origin: bytes
    case: str
    recipient: str
    issue: int
    previous: bytes | None
    decided_by: str
    decided_at: datetime
    accounting: Mapping[str, int]
    exhibits: int
    pinned: Mapping[str, bytes]
    release_log: bytes | None
    verification: EarlierVerification | None
    claimed_time: datetime
    signing_certificate: bytes
    time_stamp_required: bool
    versions: Mapping[str, str]

    def to_bytes(self) -> bytes:
        """The canonical JSON that is signed (RFC 8785)."""
        return canonical_bytes(
            {
                "accounting": dict(self.accounting),
                "case": self.case,
                "claimed_time": self.claimed_time.isoformat(),
                "day": self.day,
                "decided_at": self.decided_at.isoformat(),
                "decided_by": self.decided_by,
                "exhibits": self.exhibits,
                "issue": self.issue,
                "origin": self.origin.hex(),
                "pack": self.pack,
                "pinned": {name: digest.hex() for name, digest in self.pinned.items()},
                "previous": None if self.previous is None else self.previous.hex(),
                "recipient": self.recipient,
                "release_log": None if self.release_log is None else self.release_log.hex(),
                "signing_certificate": self.signing_certificate.hex(),
                "time_stamp": "required" if self.time_stamp_required else "none",
                "type": TYPE,
                "verification": _verification_json(self.verification),
                "version": FORMAT_VERSION,
                "versions": dict(self.versions),
            }
        )


def _verification_json(verification: EarlierVerification | None) -> JsonValue:
    if verification is None:
        return None
    return {
        "at": verification.at.isoformat(),
        "report": verification.report.hex(),
        "verdict": verification.verdict,
    }


def parse_disclosure_statement(data: bytes, *, path: str) -> DisclosureStatement:
    """Read a disclosure statement strictly.

    Raises ProofError for anything but the canonical JSON of exactly these members, and names the
    version where it is one from the future.
    """
    if len(data) > MAX_DISCLOSURE_STATEMENT_BYTES:
        raise ProofError(
            "the disclosure statement is too large",
            path=path,
            expected=f"at most {MAX_DISCLOSURE_STATEMENT_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    reader = Members(parse_canonical(data, path=path), path=path, where="the disclosure statement")
    _require_type(reader)
    statement = DisclosureStatement(
        pack=reader.text("pack"),
        day=require_reference(reader.text("day"), path=path),
        origin=reader.digest("origin"),
        case=_text(reader, "case"),
        recipient=_text(reader, "recipient"),
        issue=reader.integer("issue"),
        previous=reader.optional_digest("previous"),
        decided_by=_text(reader, "decided_by"),
        decided_at=reader.time("decided_at"),
        accounting=reader.counts("accounting", _OUTCOMES),
        exhibits=reader.integer("exhibits"),
        pinned=reader.digests("pinned"),
        release_log=reader.optional_digest("release_log"),
        verification=_parse_verification(reader),
        claimed_time=reader.time("claimed_time"),
        signing_certificate=reader.digest("signing_certificate"),
        time_stamp_required=reader.choice("time_stamp", ("required", "none")) == "required",
        versions=reader.texts("versions"),
    )
    reader.finish()
    _require_consistent(statement, reader)
    return statement


def _require_type(reader: Members) -> None:
    if reader.text("type") != TYPE:
        raise reader.wrong("type", f'"{TYPE}"')
    version = reader.integer("version")
    if version != FORMAT_VERSION:
        raise ProofError(
            f"this statement is of format version {version}, which this evidpack does not know",
            path=reader.path,
            expected=f"version {FORMAT_VERSION}",
            observed=f"version {version}",
            hint=NEWER_RELEASE,
        )


def _text(reader: Members, name: str) -> str:
    value = reader.text(name)
    if not value.strip() or len(value) > MAX_TEXT_CHARACTERS:
        raise reader.wrong(name, f"1 to {MAX_TEXT_CHARACTERS} characters")
    return value


def _parse_verification(reader: Members) -> EarlierVerification | None:
    value = reader.take("verification")
    if value is None:
        return None
    inner = Members(value, path=reader.path, where="verification")
    found = EarlierVerification(
        report=inner.digest("report"), verdict=inner.text("verdict"), at=inner.time("at")
    )
    inner.finish()
    return found


def _require_consistent(statement: DisclosureStatement, reader: Members) -> None:
    named = _PACK.fullmatch(statement.pack)
    if named is None or int(named[1]) != statement.issue:
        raise reader.wrong("pack", "pack-, the issue number, and 12 hexadecimal digits")
    if not 1 <= statement.issue <= MAX_ISSUE:
        raise reader.wrong("issue", f"a number from 1 to {MAX_ISSUE}")
    if (statement.previous is None) != (statement.issue == 1):
        raise reader.wrong("previous", "the issue before, and null for issue 1 alone")
    if not 0 <= statement.exhibits <= MAX_EXHIBIT:
        raise reader.wrong("exhibits", f"a number from 0 to {MAX_EXHIBIT}")


def pack_reference(issue: int, random_bytes: bytes) -> str:
    """The name of a pack and of its folder: issue number and 6 random bytes in hex."""
    return f"pack-{issue}-{random_bytes.hex()}"
