"""Loading what the options of `seal` (and of commands like it) name: signer and earlier bundle."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import cast

from evidpack.cli.trust_options import read_limited
from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.errors import UsageError
from evidpack.limits import MAX_PEM_BYTES, MAX_STATEMENT_BYTES
from evidpack.proof.digests import sha256
from evidpack.proof.statement import Previous, Relation, parse_statement
from evidpack.sealing.order import Signer
from evidpack.trust.certificates import load_certificates
from evidpack.trust.keys import load_signing_key


def load_signer(key: Path, cert: Path, chain: Path | None, secret: Callable[[], bytes]) -> Signer:
    """The signer from its files; `secret` is asked only where the key is encrypted.

    Raises TrustError where the key does not belong to the certificate or is too weak.
    """
    pem = read_limited(key, MAX_PEM_BYTES)
    passphrase = secret() if b"ENCRYPTED" in pem else None
    private = load_signing_key(pem, passphrase, path=str(key))
    certificates = load_certificates(read_limited(cert, MAX_PEM_BYTES), path=str(cert))
    if certificates[0].public_key() != private.public_key():
        raise UsageError(
            "the key does not belong to the certificate",
            path=str(cert),
            expected=f"the certificate of {key}",
            observed="one for another key",
        )
    extra = certificates[1:]
    if chain is not None:
        extra += load_certificates(read_limited(chain, MAX_PEM_BYTES), path=str(chain))
    return Signer(key=private, certificate=certificates[0], chain=tuple(extra))


def previous_statement(bundles: Mapping[str, Path | None], reason: str | None) -> Previous | None:
    """The earlier seal that this one names, from at most one of the options.

    Raises UsageError for more than one, or where a reason is wanted and not given.
    """
    given = [(relation, path) for relation, path in bundles.items() if path is not None]
    if not given:
        if reason is not None:
            raise UsageError("--reason goes with --corrects, --supplements or --describes")
        return None
    if len(given) > 1:
        raise UsageError("only one of --corrects, --supplements and --describes can be given")
    relation, path = given[0]
    if reason is None and relation != "description":
        raise UsageError("say why, with --reason", hint='--reason "session 2 was missing"')
    with path.open("rb") as stream:
        archive = read_archive(stream, path=str(path))
        data = archive.read(layout.STATEMENT, limit=MAX_STATEMENT_BYTES)
    parse_statement(data, path=str(path))
    return Previous(
        statement=sha256(data),
        relation=cast("Relation", relation),
        reason=reason or "description of a day that was sealed undescribed",
    )
