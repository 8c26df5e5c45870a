"""The release log beside a bundle: who was given what, when, and how it was acknowledged.

`releases.jsonl` grows at its end alone.  Each line is chained to the one before and signed, so that
none can be changed, taken out or put between.  That the last lines were cut off does not show in
the log itself: each pack names the last line there was when it was made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, Final

from cryptography import x509

from evidpack.container.appending import append, locked_log
from evidpack.disclosure.check_characters import (
    ALPHABET,
    checks,
    grouped,
    plain,
    strange,
    with_check,
)
from evidpack.disclosure.receipts import check_receipt
from evidpack.disclosure.release_lines import (
    Acknowledgement,
    LogLine,
    Release,
    Said,
    SignedReceipt,
    parse_log_line,
)
from evidpack.errors import ProofError, UsageError
from evidpack.limits import MIB
from evidpack.proof.digests import require_digest, sha256
from evidpack.sealing.order import Signer
from evidpack.trust.cms import parse_signature, require_signature, require_signer, sign_detached

MAX_LOG_BYTES: Final = 64 * MIB
_CODE_CHARACTERS: Final = 7
_CODE_LABEL: Final = b"evidpack acknowledgement\x00"


def acknowledgement_code(contents: bytes) -> str:
    """The code on a pack's index: seven characters of a digest and one that checks them.

    `contents` is the digest of the pack's contents (32 bytes).  35 bits tell the packs of a log
    apart and show that the index was opened; they prove nothing to a stranger.
    """
    digest = sha256(_CODE_LABEL + require_digest(contents, "the contents"))
    number = int.from_bytes(digest[:8])
    characters = "".join(
        ALPHABET[number >> 5 * place & 31] for place in reversed(range(_CODE_CHARACTERS))
    )
    return grouped(with_check(characters))


def read_code(text: str) -> str:
    """A code as somebody read it out, in its one form. Raises UsageError for a reading error."""
    characters = plain(text)
    right = len(characters) == _CODE_CHARACTERS + 1 and strange(characters) is None
    if not right or not checks(characters):
        raise UsageError(
            "this is no acknowledgement code, or it was misheard",
            expected="two groups of four letters and digits without I, O, 0 and 1",
            observed=text[:40],
            hint="Ask for the code again: it stands on the first page of the pack's index.",
        )
    return grouped(characters)


def read_releases(path: Path, *, anchors: Sequence[x509.Certificate] = ()) -> tuple[LogLine, ...]:
    """All lines of a log, oldest first; none where there is no log yet.

    The chain and every signature are checked; with `anchors`, also that each signer's certificate
    leads to one of them at the time of its line.

    Raises UsageError where the log cannot be read; ProofError or TrustError with its line.
    """
    try:
        if not path.exists():
            return ()
        with path.open("rb") as stream:
            data = stream.read(MAX_LOG_BYTES + 1)
    except OSError as error:
        raise _unreadable(path, error) from error
    return parse_releases(data, path=str(path), anchors=anchors)


def parse_releases(
    data: bytes, *, path: str, anchors: Sequence[x509.Certificate] = ()
) -> tuple[LogLine, ...]:
    """As `read_releases`, from the bytes of a log."""
    if len(data) > MAX_LOG_BYTES:
        raise ProofError(
            "the release log is too large",
            path=path,
            expected=f"at most {MAX_LOG_BYTES} bytes",
            observed=f"{len(data)} bytes or more",
        )
    pieces = data.split(b"\n")
    if pieces.pop() != b"":
        raise ProofError(
            "the last line of the release log is not whole",
            path=path,
            line=len(pieces) + 1,
            expected="a line feed at the end",
            observed="none",
            hint="Writing it was cut short. Keep a copy of the log, then take that line out.",
        )
    lines: list[LogLine] = []
    for number, piece in enumerate(pieces, start=1):
        line = parse_log_line(piece, path=path, number=number)
        _require_next(line, lines, path)
        _require_signed(line, path, anchors)
        lines.append(line)
    return tuple(lines)


def _require_next(line: LogLine, before: Sequence[LogLine], path: str) -> None:
    number = len(before) + 1
    expected = last_digest(before)
    if line.number != number or line.previous != expected:
        raise ProofError(
            "the release log is not in one piece: a line was changed, taken out or put in",
            path=path,
            line=number,
            expected=f"number {number} after {expected.hex() if expected else 'no line'}",
            observed=f"number {line.number} after "
            f"{line.previous.hex() if line.previous else 'no line'}",
        )
    packs = {one.said.pack for one in before if isinstance(one.said, Release)}
    if not isinstance(line.said, Release) and line.said.pack not in packs:
        raise ProofError(
            "a line acknowledges a pack that the log has not before it",
            path=path,
            line=number,
            expected="the SHA-256 of a pack in the log",
            observed=line.said.pack.hex(),
        )


def _require_signed(line: LogLine, path: str, anchors: Sequence[x509.Certificate]) -> None:
    place = f"{path}, line {line.number}"
    signature = parse_signature(line.signature, path=place)
    require_signature(signature, line.statement_bytes())
    if anchors:
        require_signer(signature, anchors, at=line.at)
    if isinstance(line.said, SignedReceipt):
        receipt = parse_signature(line.said.signature, path=place)
        require_signature(receipt, line.said.content)


def last_digest(lines: Sequence[LogLine]) -> bytes | None:
    """The SHA-256 of the last line, without its line feed; None where there is none."""
    return sha256(lines[-1].raw) if lines else None


def releases_in(lines: Iterable[LogLine]) -> tuple[Release, ...]:
    """The packs of a log, in order."""
    return tuple(line.said for line in lines if isinstance(line.said, Release))


def append_release(
    path: Path, release: Release, *, at: datetime, by: str, signer: Signer
) -> LogLine:
    """Put a pack on record: one signed line at the end of the log, which is made where missing.

    Raises as `read_releases`, and UsageError where the log cannot be written to, or has the pack.
    """

    def say(lines: tuple[LogLine, ...]) -> Release:
        if any(one.pack == release.pack for one in releases_in(lines)):
            raise UsageError("the release log has this pack already", path=str(path))
        return release

    return _append(path, say, at=at, by=by, signer=signer, create=True)


def acknowledge(
    path: Path, *, code: str, who: str, how: str, when: datetime, at: datetime, by: str,
    signer: Signer,
) -> LogLine:  # fmt: skip
    """Record that `who` read a pack's code back, `how` and `when`; `by` writes it down, `at` a time.

    Raises UsageError for a code that is misread or belongs to no pack of the log.
    """
    code = read_code(code)

    def say(lines: tuple[LogLine, ...]) -> Acknowledgement:
        found = [one for one in releases_in(lines) if acknowledgement_code(one.contents) == code]
        if not found:
            raise UsageError(
                "no pack in the release log has this code",
                path=str(path),
                expected="a code from the index of a pack made from this bundle",
                observed=code,
                hint="Ask for case, issue and code again, and look in the log of that bundle.",
            )
        return Acknowledgement(pack=found[-1].pack, code=code, who=who, how=how, when=when)

    return _append(path, say, at=at, by=by, signer=signer)


def record_receipt(
    path: Path,
    content: bytes,
    signature: bytes,
    *,
    anchors: Sequence[x509.Certificate],
    at: datetime,
    by: str,
    signer: Signer,
) -> LogLine:
    """Check a signed receipt as `check_receipt` does and put it on record, its exact bytes kept."""

    def say(lines: tuple[LogLine, ...]) -> SignedReceipt:
        check_receipt(
            content, signature, releases=releases_in(lines), anchors=anchors, at=at,
            path="the receipt",
        )  # fmt: skip
        return SignedReceipt(content=content, signature=signature)

    return _append(path, say, at=at, by=by, signer=signer)


def _append(
    path: Path,
    say: Callable[[tuple[LogLine, ...]], Said],
    *,
    at: datetime,
    by: str,
    signer: Signer,
    create: bool = False,
) -> LogLine:
    """Read the whole log, add a line, sync. One writer at a time, by a lock on the file."""
    try:
        with locked_log(path, create=create) as stream:
            lines = parse_releases(_read(stream), path=str(path))
            line = _signed(lines, say(lines), at=at, by=by, signer=signer)
            parse_log_line(line.raw, path=str(path), number=line.number)
            append(stream, path, line.raw + b"\n")
    except OSError as error:
        raise _unreadable(path, error) from error
    return line


def _signed(
    lines: Sequence[LogLine], said: Said, *, at: datetime, by: str, signer: Signer
) -> LogLine:
    line = LogLine(
        number=len(lines) + 1,
        previous=last_digest(lines),
        at=at,
        by=by,
        said=said,
        signature=b"",
    )
    signature = sign_detached(
        line.statement_bytes(),
        key=signer.key,
        certificate=signer.certificate,
        intermediates=signer.chain,
    )
    line = replace(line, signature=signature)
    return replace(line, raw=line.to_bytes())


def _read(stream: BinaryIO) -> bytes:
    """All of an unbuffered stream, up to one byte more than a log may have."""
    pieces, left = [], MAX_LOG_BYTES + 1
    while left and (piece := stream.read(left)):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)


def _unreadable(path: Path, error: OSError) -> UsageError:
    return UsageError(
        f"the release log cannot be read or written: {error.strerror or error}",
        path=str(path),
        hint="It stands beside the bundle; check that folder.",
    )
