"""A real RFC 3161 authority: ``openssl ts -reply`` behind a small HTTP server on loopback.

Any room may use it: ``from tests.trust.openssl_authority import running_authority``, or the
fixture ``openssl_authority`` of tests/trust/conftest.py.  Needs the ``openssl`` program.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from tests.trust.certificate_maker import DAY, Key, Made, authority, stamper

_CONFIG = """\
[ tsa ]
default_tsa = office
[ office ]
dir = {folder}
serial = {folder}/serial
crypto_device = builtin
signer_cert = {folder}/tsa.pem
certs = {folder}/chain.pem
signer_key = {folder}/tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha384, sha512
{options}
"""
USUAL_OPTIONS = """\
accuracy = secs:1, millisecs:500, microsecs:100
ordering = no
tsa_name = no
ess_cert_id_chain = no
ess_cert_id_alg = sha256
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpensslAuthority:
    """``root`` is what a verifier needs as anchor; ``url`` is empty where nothing listens."""

    folder: Path
    url: str
    root: Made
    stamper: Made

    @property
    def anchor(self) -> x509.Certificate:
        return self.root.certificate

    @property
    def anchor_path(self) -> Path:
        return self.folder / "root.pem"

    def reply(self, request: bytes) -> bytes:
        """The DER response of ``openssl ts -reply`` to a DER request."""
        return answer(self.folder, request)


def set_up(
    folder: Path,
    *,
    options: str = USUAL_OPTIONS,
    root_key: Key | None = None,
    stamper_key: Key | None = None,
    with_intermediate: bool = True,
    url: str = "",
) -> OpensslAuthority:
    """Write keys, certificates and configuration; valid around the present time."""
    now = dt.datetime.now(dt.UTC).replace(microsecond=0)
    start, end = now - DAY, now + 30 * DAY
    root = authority("Invented Time Root", key=root_key, start=start, end=end)
    issuer = root
    if with_intermediate:
        issuer = authority("Invented Time Branch", issuer=root, start=start, end=end)
    made = stamper(issuer=issuer, key=stamper_key, start=start, end=end)
    (folder / "root.pem").write_bytes(root.pem)
    (folder / "chain.pem").write_bytes(issuer.pem if with_intermediate else root.pem)
    (folder / "tsa.pem").write_bytes(made.pem)
    key = made.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    (folder / "tsa.key").write_bytes(key)
    (folder / "serial").write_text("01\n")
    (folder / "tsa.cnf").write_text(_CONFIG.format(folder=folder, options=options))
    return OpensslAuthority(folder=folder, url=url, root=root, stamper=made)


_lock = threading.Lock()  # openssl keeps the serial number in a file


def answer(folder: Path, request: bytes) -> bytes:
    with _lock:
        query, reply = folder / "query.tsq", folder / "reply.tsr"
        query.write_bytes(request)
        subprocess.run(
            [
                "openssl",
                "ts",
                "-reply",
                "-config",
                folder / "tsa.cnf",
                "-section",
                "office",
                "-queryfile",
                query,
                "-out",
                reply,
            ],
            check=True,
            capture_output=True,
        )
        return reply.read_bytes()


@contextlib.contextmanager
def serving(handler: type[BaseHTTPRequestHandler]) -> Iterator[str]:
    """Serve on a free loopback port; yields the address."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@contextlib.contextmanager
def running_authority(folder: Path, **settings: object) -> Iterator[OpensslAuthority]:
    """An authority that answers over HTTP until the block ends. Settings are those of set_up."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if self.headers["Content-Type"] != "application/timestamp-query":
                self.send_error(415)
                return
            reply = answer(folder, body)
            self.send_response(200)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(reply)))
            self.end_headers()
            self.wfile.write(reply)

        def log_message(self, *_args: object) -> None:
            return

    with serving(Handler) as url:
        yield set_up(folder, url=url, **settings)  # type: ignore[arg-type]
