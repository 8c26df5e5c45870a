"""How fixtures_invented/golden was made, once, by

    python -m tests.golden.make

The files are stored and never made anew: signatures are random, libraries and checks change, and
what matters is that these very bytes stay verifiable.  So this refuses to write where anything
stands, and it checks each file against what is said of it here before it keeps it.  It may add a set
for a later format version beside this one; no key is kept.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.cli.trust_options import load_trust
from evidpack.container.aes_zip import decrypt_pack, is_encrypted
from evidpack.errors import ContainerError
from evidpack.verifying.any_file import unreadable, verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import Report
from evidpack.verifying.versions import current_versions
from tests.bundles import failing_steps, fault_texts
from tests.golden.bundles import Signers, later, make_bundles, make_signers
from tests.golden.cases import BY_VERSION, EXPECTED, GOLDEN, Case, Refused, outcomes
from tests.golden.delta import delta_between
from tests.golden.packs import make_packs
from tests.golden.spoiled import Spoiled, spoiled_bundles, spoiled_encrypted, spoiled_packs
from tests.sealed_days import make_authority
from tests.trust.certificate_maker import Made
from tests.trust.test_revocation import crl

_DEMO: Final = ("--anchor", "anchors/authority.pem", "--tsa-anchor", "anchors/tsa-authority.pem")
_COUNTY: Final = (
    "--anchor",
    "anchors/county-root.pem",
    "--tsa-anchor",
    "anchors/tsa-authority.pem",
)
_OPENSSL: Final = (
    "--anchor",
    "anchors/authority.pem",
    "--tsa-anchor",
    "anchors/openssl-tsa-root.pem",
)
_CLAIMED: Final = (*_DEMO, "--accept-claimed-time")
_NO_PROFILE: Final = {8: "not established"}
_MAX_FILE_BYTES: Final = 300_000
_MAX_ALL_BYTES: Final = 3_000_000

# File, options, exit code, steps that do not hold (or, for 8, depend on versions), what it shows.
_ASKED: Final = (
    ("bundles/clean.zip", _DEMO, 0, {}, "a day with nothing adverse"),
    ("bundles/clean.zip", (), 3, {6: "not established", 7: "not established"}, "no anchor given"),
    ("bundles/clean.zip", _COUNTY, 1, {6: "fails"}, "the anchor of somebody else"),
    ("bundles/clean.zip", (*_DEMO, "--crl", "anchors/revoked-later.crl"), 0, {},
     "the signer's certificate revoked a month after sealing"),
    ("bundles/clean.zip", (*_DEMO, "--crl", "anchors/revoked-before.crl"), 1, {6: "fails"},
     "the signer's certificate revoked before sealing"),
    ("bundles/adverse-mph.zip", _DEMO, 0, {}, "failed checks, a row that could not be read, mph rules"),
    ("bundles/odd-names-claimed-time.zip", _DEMO, 3, {7: "not established"},
     "no time stamp; names that may not stand in an archive; a correction"),
    ("bundles/odd-names-claimed-time.zip", _CLAIMED, 0, {7: "not established"},
     "the claimed time accepted"),
    ("bundles/clip-kmh.zip", _DEMO, 0, {}, "a clip, km/h rules"),
    ("bundles/many-expired-rsa.zip", _COUNTY, 0, {},
     "many captures; an RSA signer under an intermediate, whose certificate ended two days later"),
    ("bundles/undescribed-openssl.zip", _OPENSSL, 0, {},
     "files secured and not described; a token made by OpenSSL"),
    ("packs/plain.zip", _DEMO, 0, _NO_PROFILE, "a pack for one capture"),
    ("packs/plain.zip", (), 3, {6: "not established", 7: "not established"} | _NO_PROFILE,
     "no anchor given"),
    ("packs/issue-2.zip", _DEMO, 0, {},
     "its second issue, with a document more and the profile, by which the cells are read again"),
    ("packs/redacted.zip", _DEMO, 0, _NO_PROFILE, "a redacted copy of a still"),
    ("packs/encrypted.zip", _DEMO, 0, _NO_PROFILE,
     "encrypted; the passphrase stands in expected.json"),
)  # fmt: skip


def main() -> None:
    """Make everything, check it, and only then write it to a place where nothing stands."""
    if GOLDEN.exists():
        sys.exit(f"{GOLDEN} stands, and golden files are never made anew")
    umask = os.umask(0o022)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        written = folder / "golden"
        for name in ("anchors", "bundles", "packs", "spoiled"):
            (written / name).mkdir(parents=True)
        signers = make_signers(folder / "openssl")
        _write_anchors(written / "anchors", signers)
        make_bundles(folder, written / "bundles", signers)
        passphrase = make_packs(folder, written / "packs").passphrase
        said = _said(written, {"packs/encrypted.zip": passphrase})
        (written / EXPECTED).write_text(
            json.dumps(said, indent=1, ensure_ascii=False) + "\n", encoding="utf-8"
        )
        _require_small(written)
        shutil.copytree(written, GOLDEN)
    os.umask(umask)
    print(f"wrote {GOLDEN}")


def _write_anchors(folder: Path, signers: Signers) -> None:
    demo = make_authority()
    for name, certificate in (
        ("authority.pem", demo.root.certificate),
        ("tsa-authority.pem", demo.time_stamp_root.certificate),
        ("county-root.pem", signers.county_root.certificate),
        ("openssl-tsa-root.pem", signers.openssl.anchor),
    ):
        (folder / name).write_bytes(certificate.public_bytes(Encoding.PEM))
    root = Made(certificate=demo.root.certificate, key=demo.root.key)
    signer = Made(certificate=demo.signer.certificate, key=demo.signer.key)
    for name, when in (("revoked-later.crl", later(30)), ("revoked-before.crl", later(-0.5))):
        listed: x509.CertificateRevocationList = crl(root, (signer, when, []))
        (folder / name).write_bytes(listed.public_bytes(Encoding.DER))


def _said(written: Path, passphrases: dict[str, str]) -> dict[str, Any]:
    cases = [_case(written, passphrases, *asked) for asked in _ASKED]
    refused = [_refused(written, one, passphrases) for one in _spoiled(written)]
    files = sorted(path for path in written.rglob("*") if path.is_file())
    return {
        "made": datetime.now(UTC).date().isoformat(),
        "versions": current_versions(),
        "passphrases": passphrases,
        "files": {
            path.relative_to(written).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in files
        },
        "cases": [one.to_json() for one in cases],
        "refused": [one.to_json() for one in refused],
    }


def _case(
    written: Path,
    passphrases: dict[str, str],
    file: str,
    options: tuple[str, ...],
    code: int,
    others: dict[int, str],
    about: str,
) -> Case:
    report = _verified((written / file).read_bytes(), written, options, passphrases.get(file))
    expected = {str(number): "holds" for number in range(1, 10)}
    expected |= {str(number): outcome for number, outcome in others.items()}
    if file.startswith("bundles"):
        expected["9"] = "not applicable"
    found = outcomes(report)
    assert found == expected, (file, options, found, fault_texts(report))
    assert report.verdict.exit_code == code, (file, options, report.verdict)
    return Case(
        file=file, options=options, about=about, exit_code=code, verdict=report.verdict.value,
        steps=expected | ({"8": BY_VERSION} if expected["8"] == "holds" else {}),
        answers={whose: answers.to_json() for whose, answers in report.answers.items()},
    )  # fmt: skip


def _spoiled(written: Path) -> list[Spoiled]:
    def of(name: str) -> bytes:
        return (written / name).read_bytes()

    adverse, clean = "bundles/adverse-mph.zip", "bundles/clean.zip"
    plain, redacted, encrypted = "packs/plain.zip", "packs/redacted.zip", "packs/encrypted.zip"
    return [
        *spoiled_bundles(adverse, of(adverse), of(clean)),
        *spoiled_packs(plain, of(plain), redacted, of(redacted)),
        *spoiled_encrypted(encrypted, of(encrypted)),
    ]


def _refused(written: Path, one: Spoiled, passphrases: dict[str, str]) -> Refused:
    report = _verified(one.data, written, _DEMO, passphrases.get(one.of))
    failing = failing_steps(report)
    assert one.step in failing, (one.name, failing, fault_texts(report))
    assert one.names in fault_texts(report), (one.name, fault_texts(report))
    assert report.verdict.exit_code == 1
    delta = delta_between((written / one.of).read_bytes(), one.data)
    path = written / "spoiled" / f"{one.name}.json"
    path.write_text(json.dumps(delta) + "\n", encoding="utf-8")
    return Refused(
        name=one.name, of=one.of, about=one.about, step=one.step, names=one.names,
        failing=tuple(failing), by_version=one.by_version,
        sha256=hashlib.sha256(one.data).hexdigest(),
    )  # fmt: skip


def _verified(
    data: bytes, written: Path, options: tuple[str, ...], passphrase: str | None
) -> Report:
    """What the command line would report, for files that stand in `written`."""
    given: dict[str, list[Path]] = {"--anchor": [], "--tsa-anchor": [], "--crl": []}
    pairs = [one for one in options if one != "--accept-claimed-time"]
    for name, path in zip(pairs[::2], pairs[1::2], strict=True):
        given[name].append(written / path)
    asked = Options(
        now=datetime.now(UTC),
        trust=load_trust(*(tuple(given[name]) for name in ("--anchor", "--tsa-anchor", "--crl"))),
        accept_claimed_time="--accept-claimed-time" in options,
    )
    stream = io.BytesIO(data)
    try:
        if is_encrypted(stream) and passphrase is not None:
            plain = io.BytesIO()
            decrypt_pack(stream, plain, passphrase=passphrase, path="pack")
            stream = plain
        size = len(stream.getvalue())
        return verify_file(stream, path="file", size=size, options=asked)
    except ContainerError as error:
        return unreadable(error, path="file", size=len(data), options=asked)


def _require_small(written: Path) -> None:
    sizes = {path: path.stat().st_size for path in written.rglob("*") if path.is_file()}
    for path, size in sorted(sizes.items(), key=lambda one: -one[1]):
        print(f"{size:>8} {path.relative_to(written)}")
    assert max(sizes.values()) <= _MAX_FILE_BYTES, sizes
    assert sum(sizes.values()) <= _MAX_ALL_BYTES, sum(sizes.values())


if __name__ == "__main__":
    main()
