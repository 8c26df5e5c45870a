"""One function for each parser: takes any bytes, and returns or raises one of evidpack's own errors.

A few inner readers raise an error of their own, which their caller turns into a record or a
finding; a target for one of them names it.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import BinaryIO, Final

from cryptography import x509

from evidpack.container.aes_zip import decrypt_pack, is_encrypted, read_passphrase
from evidpack.container.bag import hash_members, parse_manifest, require_bag
from evidpack.container.names import require_name, require_top, safe_name
from evidpack.container.zip_reader import read_archive
from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.jpeg_scans import require_redactable
from evidpack.disclosure.passphrase import require_passphrase
from evidpack.disclosure.ranges import parse_ranges
from evidpack.disclosure.receipts import receipt_of
from evidpack.disclosure.releases import parse_releases, read_code
from evidpack.errors import EvidpackError
from evidpack.index.thumbnails import jpeg_size, make_thumbnail
from evidpack.intake.clip_timing import ClipTimingError, frame_times_s
from evidpack.intake.description import DAY_FILE, OfficeText, load_description
from evidpack.intake.file_patterns import Glob, NamePattern, PatternError
from evidpack.intake.intake import take_in
from evidpack.intake.pixels import decode_rgb
from evidpack.intake.run_log import read_past_runs
from evidpack.intake.source import FileEntry
from evidpack.intake.stills import StillError, read_header, still_values
from evidpack.intake.toml_lines import read_toml
from evidpack.proof.accounting import parse_accounting_line
from evidpack.proof.canonical import canonical_bytes, parse_canonical, parse_json
from evidpack.proof.commitments import parse_entry
from evidpack.proof.disclosure_statement import parse_disclosure_statement
from evidpack.proof.openings import parse_opening
from evidpack.proof.pack_parts import (
    parse_leaves,
    parse_pack_opening,
    parse_redaction,
    parse_tiles,
)
from evidpack.proof.statement import parse_statement
from evidpack.rules.ruleset import load_rule_set
from evidpack.trust.certificates import certificate_from_der, load_certificates
from evidpack.trust.cms import parse_signature, require_signature, require_signer
from evidpack.trust.keys import load_signing_key
from evidpack.trust.paths import Usage, require_path
from evidpack.trust.revocation import load_crls, require_not_revoked
from evidpack.trust.timestamps import parse_token, require_token
from evidpack.verifying.any_file import verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.png_chunks import require_plain_png
from evidpack.verifying.sealed_file import sealed_file
from tests.fuzz.resealed import PLACES, rechecked

NOW: Final = datetime(2026, 6, 1, tzinfo=UTC)
PATH: Final = "hostile"
PASSPHRASE: Final = "ABCD-EFGH-JKLM-NPQR-STUV-WXYZ-2345"

_LOGS: Final = """\
format = "evidpack-day-1"
[day]
reference = "FUZZ-1"
unit = "Invented"
date = 2026-05-14
zone = "Europe/London"
export = "export"
[[clock]]
name = "meter"
zone = "Europe/London"
[[items]]
glob = "*.jpg"
kind = "still"
clock = "meter"
name_pattern = '(?P<capture>C\\d+)\\.jpg'
[[items]]
glob = "*.mp4"
kind = "clip"
[[log]]
glob = "r.csv"
record = "reading"
format = "csv"
encoding = "{encoding}"
clock = "meter"
[log.fields]
capture = "Ref"
time = {{ columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }}
speed = {{ column = "Speed", unit = "mph" }}
range = {{ column = "Range", unit = "ft", optional = true }}
pulse_times_s = {{ column = "Times", separator = ";", unit = "ms", optional = true }}
[[log]]
glob = "r.json"
record = "reading"
format = "json"
rows = "data.rows"
clock = "meter"
[log.fields]
capture = "id"
time = {{ column = "at", format = "rfc3339" }}
speed = {{ column = "v.kmh", unit = "km/h" }}
[[log]]
glob = "r.jsonl"
record = "reading"
format = "jsonl"
clock = "meter"
[log.fields]
capture = "id"
time = {{ column = "at", format = "unix-milliseconds" }}
speed = {{ column = "v.kmh", unit = "km/h" }}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A parser. `own` are the errors, besides evidpack's, that its callers expect of it."""

    name: str
    run: Callable[[bytes], None]
    own: tuple[type[Exception], ...] = ()

    def accepts(self, error: BaseException) -> bool:
        """Whether an error is one that this parser may end in."""
        return isinstance(error, (EvidpackError, *self.own))


class OneFile:
    """A `FileSource` of a single file in memory."""

    def __init__(self, path: str, data: bytes) -> None:
        self._entry = FileEntry(path=path, size=len(data), modified=NOW)
        self._data = data

    def entries(self) -> tuple[FileEntry, ...]:
        return (self._entry,)

    def empty_folders(self) -> tuple[str, ...]:
        return ()

    def open(self, path: str) -> BinaryIO:
        assert path == self._entry.path
        return io.BytesIO(self._data)


def _zip(data: bytes) -> None:
    archive = read_archive(io.BytesIO(data), path=PATH)
    require_bag(archive, hash_members(archive))


def _bundle(data: bytes) -> None:
    report = verify_file(
        io.BytesIO(data), path=PATH, size=len(data), options=Options(now=NOW, recheck=True)
    )
    assert report.to_json()["verdict"] != "verified"


def _aes(data: bytes) -> None:
    if is_encrypted(io.BytesIO(data)):
        decrypt_pack(io.BytesIO(data), io.BytesIO(), passphrase=PASSPHRASE, path=PATH)


def _json(data: bytes) -> None:
    value = parse_json(data, path=PATH)
    assert parse_canonical(canonical_bytes(value), path=PATH) == value
    parse_canonical(data, path=PATH)


def _entry(data: bytes) -> None:
    parse_entry(data, path=PATH, number=0)


def _opening(data: bytes) -> None:
    sealed_file(0, parse_opening(data, path=PATH, number=0))


def _day(data: bytes) -> None:
    office = {DAY_FILE: OfficeText(path=DAY_FILE, shown=PATH, data=data)}
    load_description(office)
    take_in(
        export=OneFile("export/r.csv", b"Ref,Speed\nC1,41\n"),
        office=OneFile(DAY_FILE, data),
        now=NOW,
    )


def _log(name: str, encoding: str = "utf-8") -> Callable[[bytes], None]:
    day = OneFile(DAY_FILE, _LOGS.format(encoding=encoding).encode())

    def run(data: bytes) -> None:
        intake = take_in(export=OneFile(f"export/{name}", data), office=day, now=NOW)
        for record in intake.records:
            canonical_bytes(dict(record.values))
            canonical_bytes(dict(record.raw))

    return run


def _still(data: bytes) -> None:
    header = read_header(io.BytesIO(data), size=len(data))
    still_values(header.tags, zone="Europe/London")


def _picture(data: bytes) -> None:
    jpeg_size(data)
    decode_rgb(data, path=PATH)
    make_thumbnail(io.BytesIO(data))


def _signature(data: bytes) -> None:
    signature = parse_signature(data, path=PATH)
    require_signature(signature, b"{}")
    require_signer(signature, signature.certificates, at=NOW)


def _token(data: bytes) -> None:
    token = parse_token(data, path=PATH)
    require_token(token, b"{}", token.certificates)


def _paths(
    end: x509.Certificate, others: Sequence[x509.Certificate], anchors: Sequence[x509.Certificate]
) -> None:
    """Look for a path for every use, whether or not there is one."""
    for usage in Usage:
        with suppress(EvidpackError):
            require_path(end, others, anchors, at=NOW, usage=usage)


def _certificates(data: bytes) -> None:
    found = load_certificates(data, path=PATH)
    _paths(found[0], found[1:], found[-1:])


def _certificate(data: bytes) -> None:
    found = certificate_from_der(data, path=PATH)
    _paths(found, [found], [found])


def _lists(data: bytes) -> None:
    for crl in load_crls(data, path=PATH):
        assert crl.issuer is not None
        require_not_revoked([], [crl], NOW)


def _key(data: bytes) -> None:
    load_signing_key(data, b"a passphrase" if b"ENCRYPTED" in data else None, path=PATH)


def _typed(data: bytes) -> None:
    text = data.decode("utf-8", "surrogateescape")
    for read in (
        read_passphrase,
        require_passphrase,
        read_code,
        parse_ranges,
        require_top,
        require_name,
    ):
        with suppress(EvidpackError):
            read(text)


def _safe_name(data: bytes) -> None:
    taken: set[str] = set()
    for part in data.split(b"\n")[:20]:
        require_name(safe_name(part, taken))


def _pattern(data: bytes) -> None:
    text = data.decode("utf-8", "replace")
    with suppress(PatternError):
        Glob(text).matches("stills/C1_0001.jpg")
    pattern = NamePattern(text)
    for name in ("a" * 160, "stills/C1_0001.jpg", "C1_0001.jpg"):
        pattern.read(name)


def _pack_lines(data: bytes) -> None:
    for parse in (parse_accounting_line, parse_pack_opening, parse_redaction):
        with suppress(EvidpackError):
            parse(data, path=PATH, number=1)
    for parse_all in (parse_leaves, parse_tiles):
        with suppress(EvidpackError):
            parse_all(data, path=PATH)


def _statement(data: bytes) -> None:
    statement = parse_statement(data, path=PATH)
    assert parse_statement(statement.to_bytes(), path=PATH) == statement


def _disclosure(data: bytes) -> None:
    statement = parse_disclosure_statement(data, path=PATH)
    assert parse_disclosure_statement(statement.to_bytes(), path=PATH) == statement


TARGETS: Final[dict[str, Target]] = {
    target.name: target
    for target in (
        Target(name="zip", run=_zip),
        Target(name="bundle", run=_bundle),
        *(Target(name=name, run=rechecked(path)) for name, path in PLACES.items()),
        Target(name="aes_zip", run=_aes),
        Target(name="manifest", run=lambda data: parse_manifest(data, path=PATH) and None),
        Target(name="json", run=_json),
        Target(name="entry", run=_entry),
        Target(name="opening", run=_opening),
        Target(name="statement", run=_statement),
        Target(name="disclosure_statement", run=_disclosure),
        Target(name="pack_lines", run=_pack_lines),
        Target(name="toml", run=lambda data: read_toml(data, path=PATH) and None),
        Target(name="day_toml", run=_day),
        Target(name="rules_toml", run=lambda data: load_rule_set(data, path=PATH) and None),
        Target(name="decisions_toml", run=lambda data: load_decisions(data, path=PATH) and None),
        Target(name="csv", run=_log("r.csv")),
        Target(name="csv_utf16", run=_log("r.csv", "utf-16-le")),
        Target(name="json_log", run=_log("r.json")),
        Target(name="json_lines", run=_log("r.jsonl")),
        Target(name="still", run=_still, own=(StillError,)),
        Target(name="still_record", run=_log("C1.jpg")),
        Target(name="picture", run=_picture),
        Target(name="jpeg_scans", run=lambda data: require_redactable(data, path=PATH)),
        Target(
            name="png_chunks",
            run=lambda data: require_plain_png(data, path=PATH, width_px=8, height_px=8),
        ),
        Target(
            name="clip",
            run=lambda data: frame_times_s(io.BytesIO(data), size=len(data)) and None,
            own=(ClipTimingError,),
        ),
        Target(name="clip_record", run=_log("C1.mp4")),
        Target(name="signature", run=_signature),
        Target(name="token", run=_token),
        Target(name="certificates", run=_certificates),
        Target(name="certificate", run=_certificate),
        Target(name="revocation_lists", run=_lists),
        Target(name="key", run=_key),
        Target(name="typed", run=_typed),
        Target(name="safe_name", run=_safe_name),
        Target(name="pattern", run=_pattern, own=(PatternError,)),
        Target(name="releases", run=lambda data: parse_releases(data, path=PATH) and None),
        Target(name="receipt", run=lambda data: receipt_of(data, path=PATH) and None),
        Target(
            name="run_log",
            run=lambda data: list(read_past_runs(io.BytesIO(data), path=PATH)) and None,
        ),
    )
}
