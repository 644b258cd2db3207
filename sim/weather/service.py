"""One question to a service of the network: its answer, bounded in time and size, or the reason why there is none."""

import datetime
import email.utils
import http
import json
import socket
import threading
import zlib
from collections.abc import Callable, Mapping
from typing import Any, TypeVar
from urllib.parse import urlsplit

import requests
from requests.utils import get_environ_proxies, select_proxy
from urllib3 import exceptions

CONNECT_S = 4.0  # to find the name, and again for the connection
QUIET_S = 60.0  # between two pieces of an answer
LARGEST_BYTES = 8 * 2**20  # of an answer, unpacked: thirty times that of a quarter of a year
PIECE_BYTES = 65536
WORDS = 160  # signs of a foreign text that are shown
_BUSY = (http.HTTPStatus.TOO_MANY_REQUESTS, http.HTTPStatus.SERVICE_UNAVAILABLE)
_PASSING = (http.HTTPStatus.REQUEST_TIMEOUT, http.HTTPStatus.TOO_EARLY)
_T = TypeVar("_T")


class UnusableError(Exception):
    """An answer that another try may better; it says why, and how long the service asks to wait, if it does."""

    def __init__(self, why: str, wait_s: float | None = None) -> None:
        super().__init__(why)
        self.wait_s = wait_s


class RefusedError(Exception):
    """The service understood and will not answer; it says why, and will say so again."""


class UnreachableError(Exception):
    """There is no connection to the service."""


def answer_of(url: str, query: Mapping[str, Any], limit_s: float) -> Any:
    """The JSON that an address answers to a query.

    Raises UnusableError, RefusedError or UnreachableError.
    """
    _find(url)
    return within(limit_s, lambda: _asked(url, query))


def within(limit_s: float, work: Callable[[], _T]) -> _T:
    """The result of some work in a thread of its own, or its failure; UnusableError if it takes too long."""
    done: list[_T] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            done.append(work())
        except BaseException as failure:
            failed.append(failure)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(limit_s)
    if failed:
        raise failed[0]
    if not done:
        raise UnusableError(f"no whole answer within {limit_s:g} s")
    return done[0]


def clean(text: object, most: int = WORDS) -> str:
    r"""A foreign text in one line without control signs, cut short.

    >>> clean("  not\n here\x1b[31m # yet ")
    'not here [31m yet'
    """
    plain = "".join(sign if sign.isprintable() and sign not in "#<>" else " " for sign in str(text)[: 10 * most])
    return " ".join(plain.split())[:most]


def _find(url: str) -> None:
    """Whether the name of the address, or of the proxy that leads to it, is known; a lookup alone may hang long."""
    host = urlsplit(select_proxy(url, get_environ_proxies(url)) or url).hostname or ""
    try:
        within(CONNECT_S, lambda: socket.getaddrinfo(host, None))
    except (OSError, UnicodeError, UnusableError):
        raise UnreachableError(host) from None


def _asked(url: str, query: Mapping[str, Any]) -> Any:
    told = {"Accept": "application/json", "Accept-Encoding": "gzip"}
    try:
        with requests.get(url, params=query, headers=told, timeout=(CONNECT_S, QUIET_S), stream=True) as response:
            body = _body(response)
            _check_status(response, body)
    except requests.ConnectionError as failure:
        raise _broken(failure) from None
    except (requests.RequestException, exceptions.HTTPError, zlib.error):
        raise UnusableError("an answer that breaks off") from None
    return _parsed(body)


def _broken(failure: requests.ConnectionError) -> Exception:
    """No connection at all, or one that the other side ended."""
    never = (exceptions.NewConnectionError, exceptions.ConnectTimeoutError, exceptions.ProxyError, exceptions.SSLError)
    reason = getattr(failure.args[0] if failure.args else None, "reason", None)
    if isinstance(failure, requests.exceptions.ConnectTimeout) or isinstance(reason, never):
        return UnreachableError(clean(reason))
    return UnusableError("an answer that breaks off")


def _body(response: requests.Response) -> bytes:
    """The answer unpacked, piece by piece, as far as its size is allowed."""
    unpack, out = _unpacker(response.headers.get("Content-Encoding", "identity")), bytearray()
    while piece := response.raw.read(PIECE_BYTES, decode_content=False):
        out += unpack(piece, LARGEST_BYTES + 1 - len(out))
        if len(out) > LARGEST_BYTES:
            raise UnusableError(f"an answer of more than {LARGEST_BYTES / 2**20:.0f} MB")
    return bytes(out)


def _unpacker(encoding: str) -> Callable[[bytes, int], bytes]:
    """What turns a piece into at most so many plain bytes."""
    kind = encoding.strip().lower()
    if kind in ("", "identity"):
        return lambda piece, most: piece
    if kind == "gzip":
        return zlib.decompressobj(wbits=31).decompress
    raise UnusableError(f"an answer packed as {clean(encoding, 20)}")


def _check_status(response: requests.Response, body: bytes) -> None:
    status = response.status_code
    if status == http.HTTPStatus.OK:
        return
    said = f"{status}, {_messages(body) or clean(response.reason)}"
    if status in _BUSY:
        raise UnusableError(f"an error, {said}", _retry_after_s(response.headers.get("Retry-After", "")))
    if status < http.HTTPStatus.INTERNAL_SERVER_ERROR and status not in _PASSING:
        raise RefusedError(said)
    raise UnusableError(f"an error, {said}")


def _messages(body: bytes) -> str:
    """The reasons that an error's body names; empty where it names none.

    >>> _messages(b'{"messages": ["no such year"]}'), _messages(b"<html>")
    ('no such year', '')
    """
    try:
        found = json.loads(body)["messages"]
    except (ValueError, LookupError, TypeError, RecursionError):
        return ""
    return clean("; ".join(map(str, found)) if isinstance(found, list) else found)


def _retry_after_s(header: str) -> float | None:
    """Seconds to wait, given as such or as a date; None where neither is.

    >>> _retry_after_s("7"), _retry_after_s("soon")
    (7.0, None)
    """
    if header.strip().isdecimal():
        return float(header)
    try:
        until = email.utils.parsedate_to_datetime(header)
    except (ValueError, TypeError):
        return None
    now = datetime.datetime.now(datetime.UTC)
    return max((until if until.tzinfo else until.replace(tzinfo=datetime.UTC)).timestamp() - now.timestamp(), 0.0)


def _parsed(body: bytes) -> Any:
    try:
        return json.loads(body, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise UnusableError("an answer that is no data, or is cut") from None


def _no_number(name: str) -> float:
    raise ValueError(name)
