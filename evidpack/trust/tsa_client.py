"""Asking a time-stamp authority over HTTP (RFC 3161 §3.4). The one place that uses a network.

Only the address that the user gave is asked: no redirect is followed, no proxy is looked up, and
the answer is bounded in size and time.
"""

from __future__ import annotations

import functools
import http.client
import io
import socket
import time
from typing import TYPE_CHECKING, Final, NoReturn
from urllib.parse import SplitResult, urlsplit

from evidpack.errors import TimeStampUnavailableError, TrustError
from evidpack.limits import MAX_TOKEN_BYTES
from evidpack.trust import der, der_timestamps
from evidpack.trust.fingerprints import quoted_text
from evidpack.trust.status import require_granted
from evidpack.trust.timestamps import WHAT, parse_token, request, require_imprint

REQUEST_TYPE: Final = "application/timestamp-query"
REPLY_TYPE: Final = "application/timestamp-reply"
DEFAULT_TIMEOUT_S: Final = 20.0
if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

_READ_BYTES: Final = 16 * 1024
_HINT: Final = (
    "check the address and the connection, use another authority, or seal with --no-time-stamp"
)


def fetch_token(
    url: str, message: bytes, *, nonce: int, timeout_s: float = DEFAULT_TIMEOUT_S
) -> bytes:
    """A response with a fresh token over ``message``, ready to be stored.

    The token's bytes are the authority's; of the response around it only “granted” is kept,
    since a text there would be covered by no signature.  Whether the authority is trusted is for
    `timestamps.require_token`.

    Raises:
        TimeStampUnavailableError: no http or https address, no answer in time, a redirect, an
            error, an answer that is too large, of another type, or not the token asked for.
    """
    answer = _post(_address(url), request(message, nonce), timeout_s=timeout_s)
    try:
        response = der.decode(
            der_timestamps.TimeStampResponse, answer, what="the answer", path=None
        )
        require_granted(response, texts_allowed=True, path=None)
        stored = _stored(answer)
        token = parse_token(stored, path=_shown(url))
        require_imprint(token, message)
    except TimeStampUnavailableError:
        raise
    except TrustError as error:
        _unavailable(url, expected="a token over what was sent", observed=str(error))
    if token.nonce != nonce:
        _unavailable(url, expected="the nonce that was sent", observed=f"{token.nonce}")
    return stored


def _stored(answer: bytes) -> bytes:
    """The same token in a response that says “granted” and nothing else."""
    outer = der.decode(der.TlvPair, answer, what=WHAT, path=None)
    status = der_timestamps.PkiStatusInfo(status=0, texts=None, failure=None)
    return der.encode(der_timestamps.WrittenTimeStampResponse(status=status, token=outer.second))


def _address(url: str) -> SplitResult:
    try:
        address = urlsplit(url)
        usable = address.scheme in {"http", "https"} and bool(address.hostname)
        usable = usable and address.port != 0 and "@" not in address.netloc
    except ValueError:
        usable = False
    if not usable or not url.isascii() or not url.isprintable() or " " in url:
        _unavailable(
            url,
            expected="an http:// or https:// address without a password",
            observed="another kind of address",
        )
    return address


def _post(address: SplitResult, body: bytes, *, timeout_s: float) -> bytes:
    kind = http.client.HTTPSConnection if address.scheme == "https" else http.client.HTTPConnection
    host = address.hostname or ""
    url = address.geturl()
    target = (address.path or "/") + (f"?{address.query}" if address.query else "")
    headers = {"Content-Type": REQUEST_TYPE, "Accept": REPLY_TYPE, "Connection": "close"}
    deadline = time.monotonic() + timeout_s
    connection = kind(host, address.port, timeout=timeout_s)
    # A factory is all that http.client needs here; its annotation asks for a class.
    connection.response_class = functools.partial(  # type: ignore[assignment]
        _TimedResponse, deadline=deadline
    )
    try:
        connection.request("POST", target, body, headers)
        with connection.getresponse() as reply:
            return _body(reply, url=url)
    except (OSError, http.client.HTTPException) as error:
        _unavailable(
            url,
            expected=f"an answer within {timeout_s:g} s",
            observed=f"{type(error).__name__}: {error}",
        )
    finally:
        connection.close()


def _body(reply: http.client.HTTPResponse, *, url: str) -> bytes:
    if reply.status != http.client.OK:
        _unavailable(url, expected="HTTP status 200", observed=_status(reply))
    kind = (reply.getheader("Content-Type") or "none").split(";")[0].strip().lower()
    if kind != REPLY_TYPE:
        _unavailable(url, expected=REPLY_TYPE, observed=quoted_text(kind))
    received = bytearray()
    while part := reply.read1(_READ_BYTES):
        received += part
        if len(received) > MAX_TOKEN_BYTES:
            _unavailable(url, expected=f"at most {MAX_TOKEN_BYTES} bytes", observed="more")
    return bytes(received)


class _TimedReader(io.RawIOBase):
    """Reads a socket until a deadline, however slowly the other side drips."""

    def __init__(self, sock: socket.socket, held: io.BufferedIOBase, deadline: float) -> None:
        self._sock = sock
        self._held = held  # keeps the socket open until this reader is closed
        self._deadline = deadline

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: WriteableBuffer) -> int:
        left = self._deadline - time.monotonic()
        if left <= 0:
            raise TimeoutError("the answer was not complete in time")
        self._sock.settimeout(left)
        return self._sock.recv_into(buffer)

    def close(self) -> None:
        self._held.close()
        super().close()


class _TimedResponse(http.client.HTTPResponse):
    """A response whose status line, headers and body must all arrive before the deadline."""

    def __init__(
        self,
        sock: socket.socket,
        debuglevel: int = 0,
        method: str | None = None,
        url: str | None = None,
        *,
        deadline: float,
    ) -> None:
        super().__init__(sock, debuglevel, method, url)
        self.fp = io.BufferedReader(_TimedReader(sock, self.fp, deadline))


def _status(reply: http.client.HTTPResponse) -> str:
    redirect = " (a redirect, which is not followed)" if 300 <= reply.status < 400 else ""
    return f"{reply.status} {quoted_text(reply.reason or '')}{redirect}"


def _shown(url: str) -> str:
    return quoted_text(url)


def _unavailable(url: str, *, expected: str, observed: str) -> NoReturn:
    raise TimeStampUnavailableError(
        f"no time stamp from {_shown(url)}",
        expected=expected,
        observed=observed,
        hint=_HINT,
    )
