"""Write tests/fuzz/seeds anew: one or a few small good inputs a parser, all invented.

python -m tests.fuzz.make_seeds
"""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding
from PIL import Image

from evidpack.container import layout
from evidpack.container.aes_zip import encrypt_pack
from evidpack.container.bag import BAGIT_TXT, bag_info, manifest
from evidpack.disclosure.receipts import receipt_for
from evidpack.disclosure.releases import append_release
from evidpack.proof.digests import sha256
from evidpack.trust.authority import DemoAuthority, demo_time_stamp
from evidpack.trust.cms import sign_detached
from evidpack.trust.keys import private_key_pem
from evidpack.trust.timestamps import request
from tests.attacks.good import SALT, good
from tests.container.archives import forged, parts, written
from tests.disclosure.packs import signer_of
from tests.disclosure.test_decisions import CLASS, HEAD
from tests.disclosure.test_releases import AT, PACK
from tests.fuzz.corpus import SEEDS
from tests.fuzz.hostile import _movie, _png
from tests.fuzz.resealed import PLACES
from tests.fuzz.targets import _LOGS, PASSPHRASE
from tests.intake.test_run_log import _log
from tests.sealed_days import SEALED_AT, FixedKeys
from tests.trust.certificate_maker import authority, make
from tests.trust.test_revocation import crl

Seed = tuple[str, str, bytes]  # target, name, bytes


def _archives() -> Iterator[Seed]:
    members = {"data/a.txt": b"alpha\n"}
    payload = manifest({name: sha256(data) for name, data in members.items()})
    tags = {
        layout.MANIFEST: payload,
        layout.BAG_INFO: bag_info(
            top="X", payload_bytes=6, payload_files=1, bagging_date="2026-05-14"
        ),
        layout.BAGIT: BAGIT_TXT,
    }
    tags[layout.TAG_MANIFEST] = manifest({name: sha256(data) for name, data in tags.items()})
    bag = written(tuple((members | tags).items()), top="X")
    for target in ("zip", "bundle"):
        yield target, "bag", bag
        yield target, "two", forged(parts("a", "b"))
    yield "manifest", "two", manifest({"data/a": bytes(32), "data/ä": bytes(32)})
    target = io.BytesIO()
    encrypt_pack(io.BytesIO(b"hello"), 5, target, passphrase=PASSPHRASE, salt=SALT)
    yield "aes_zip", "hello", target.getvalue()


def _proofs() -> Iterator[Seed]:
    members, pack = good().members, good().redacted_members
    yield "json", "values", b'{"a":[1,-2.5,1e+21,"\xc3\xa9",null,true],"b":{}}'
    yield "json", "escape", b'"\\u001f\\n"'
    yield "entry", "file", members[layout.LEDGER].split(b"\n")[0]
    yield "opening", "file", members[layout.OPENINGS].split(b"\n")[0]
    yield "opening", "still", members[layout.OPENINGS].split(b"\n")[3]
    yield "statement", "seal", members[layout.STATEMENT]
    yield "disclosure_statement", "pack", pack[layout.DISCLOSURE_STATEMENT]
    for name, member in {
        "accounting": layout.DISCLOSURE_ACCOUNTING, "opening": layout.DISCLOSURE_OPENINGS,
        "redaction": layout.DISCLOSURE_REDACTIONS,
    }.items():  # fmt: skip
        yield "pack_lines", name, pack[member].split(b"\n")[0]
    yield "pack_lines", "leaves", pack[layout.DISCLOSURE_LEAVES][:130]
    yield "pack_lines", "tiles", b"open " + b"0" * 32 + b"\nclosed " + b"0" * 64 + b"\n"


def _descriptions() -> Iterator[Seed]:
    members = good().members
    day = members["data/office/day.toml"]
    for target in ("toml", "day_toml"):
        yield target, "day", day
        yield target, "logs", _LOGS.format(encoding="utf-8").encode()
        yield target, "unit", members["data/office/unit/unit.toml"]
    yield "rules_toml", "rules", members["data/office/rules.toml"]
    redact = (
        "[[redact]]\nentry = 4\nboxes = [[1, 2, 3, 4]]\npolygons = [[[1, 2], [3, 4], [5, 6]]]\n"
    )
    yield "decisions_toml", "decisions", (HEAD + CLASS + redact + 'reason = "mixed"\n').encode()
    for target, path in PLACES.items():
        yield target, "own", members[f"data/{path}"]
    yield "pattern", "glob", b"**/stills/C*_?.jpg"
    yield "pattern", "groups", rb"(?P<capture>C\d+)_(?P<image_number>\d{4})\.(?:jpg|png)"


def _logs() -> Iterator[Seed]:
    text = 'Ref,Date,Time,Speed,Range,Times\nC1,14/05/2026,09:15:00,41,"182.4","1;2.5"\n'
    yield "csv", "row", text.encode()
    yield "csv_utf16", "row", text.encode("utf-16-le")
    row = {"id": "C1", "at": "2026-05-14T09:00:00Z", "v": {"kmh": 66}}
    yield "json_log", "row", json.dumps({"data": {"rows": [row]}}).encode()
    yield "json_lines", "row", json.dumps(row | {"at": 1778749200000}).encode() + b"\n"
    yield "run_log", "two", b"".join(line + b"\n" for line in _log({}, {}))


def _pictures() -> Iterator[Seed]:
    exif = Image.Exif()
    exif[0x010E] = "invented"
    exif.get_ifd(0x8769)[0x9003] = "2026:05:14 09:15:00"
    found: dict[str, bytes] = {
        "plain": _png(8, 8, b"\0" + b"\x80" * 24 + (b"\0" + b"\x80" * 24) * 7)
    }
    for name, form, more in (
        ("jpeg", "JPEG", {"exif": exif}), ("progressive", "JPEG", {"progressive": True}),
        ("png", "PNG", {"exif": exif}), ("tiff", "TIFF", {}), ("webp", "WEBP", {}), ("bmp", "BMP", {}),
    ):  # fmt: skip
        out = io.BytesIO()
        Image.new("RGB", (8, 8), "teal").save(out, form, **more)
        found[name] = out.getvalue()
    for name, data in found.items():
        for target in ("still", "still_record", "picture"):
            yield target, name, data
    for name in ("jpeg", "progressive"):
        yield "jpeg_scans", name, found[name]
    yield "png_chunks", "plain", found["plain"]
    ftyp = b"\0\0\0\x10ftypisom\0\0\0\0"
    for target in ("clip", "clip_record"):
        yield target, "movie", _movie(ftyp, b"\0\0\0\0\0\0\0\x01\0\0\0\x05\0\0\0\x28")


def _trust() -> Iterator[Seed]:
    made = DemoAuthority.create(name="Seed", now=SEALED_AT, key_source=FixedKeys())
    signer = made.signer
    yield "signature", "demo", sign_detached(b"{}", key=signer.key, certificate=signer.certificate)
    yield "token", "demo", demo_time_stamp(request(b"{}", 1), authority=made, now=SEALED_AT)
    chain = (signer.certificate, made.root.certificate)
    yield "certificates", "chain", b"".join(one.public_bytes(Encoding.PEM) for one in chain)
    yield "certificate", "signer", signer.certificate.public_bytes(Encoding.DER)
    root = authority()
    revoked = crl(root, (make(issuer=root), SEALED_AT, []))
    yield "revocation_lists", "der", revoked.public_bytes(Encoding.DER)
    yield "revocation_lists", "pem", revoked.public_bytes(Encoding.PEM)
    yield "key", "encrypted", private_key_pem(signer.key, b"a passphrase")
    yield "typed", "passphrase", PASSPHRASE.encode()
    yield "typed", "ranges", b"3-7, 12"
    yield "typed", "name", b"data/export/C1.jpg"
    yield "safe_name", "names", b"con\na\xcc\x81\nA.\n..\n\xff"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "releases.jsonl"
        append_release(path, PACK, at=AT, by="H. Undersedge", signer=signer_of(made))
        yield "releases", "one", path.read_bytes()
    receipt = receipt_for(PACK, received_by="R. Moss", received_at=AT + timedelta(days=1))
    yield "receipt", "one", receipt.to_bytes()


def main() -> None:
    """Write every seed."""
    for source in (_archives, _proofs, _descriptions, _logs, _pictures, _trust):
        for target, name, data in source():
            folder = SEEDS / target
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(data)


if __name__ == "__main__":
    main()
