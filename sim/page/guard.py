"""Who may ask: this computer's owner, by token, from the page itself; nobody who comes by way of another site."""

from __future__ import annotations

import re
import secrets
from base64 import b64encode
from dataclasses import dataclass
from hashlib import sha256

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.exceptions import HTTPException
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MIB = 1024 * 1024
UPLOAD, LARGEST_UPLOAD, LARGEST_FORM = "/upload", 32 * MIB, 4 * MIB  # bytes
_SAFE = ("GET", "HEAD")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-src 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_NONE = "'none'"
_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # not "no-referrer", which would make a form's Origin "null"
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


def report_policy(html: str) -> str:
    """What a report may do: nothing of its own but its styles, its drawings, and the very scripts that stand in it."""
    inside = re.findall(r"<script(?: [^>]*)?>(.*?)</script>", html, re.DOTALL)
    hashes = " ".join(f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'" for text in inside)
    return (
        f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src {hashes or _NONE}; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'self'; sandbox allow-scripts allow-popups"
    )


@dataclass(frozen=True)
class Keys:
    """The port that is listened on, and the token that opens the page."""

    port: int
    token: str

    @classmethod
    def new(cls, port: int) -> Keys:
        """A token that nobody can guess."""
        return cls(port, secrets.token_urlsafe(24))

    @property
    def hosts(self) -> tuple[str, str]:
        """How this computer calls itself."""
        return f"127.0.0.1:{self.port}", f"localhost:{self.port}"

    @property
    def address(self) -> str:
        """Where to point a browser."""
        return f"http://{self.hosts[0]}/?key={self.token}"

    @property
    def cookie(self) -> str:
        """The name of the cookie; cookies do not know of ports, so it tells its own."""
        return f"sunrill-{self.port}"

    def fits(self, given: str | None) -> bool:
        """Whether this is the token; the time that it takes does not tell how much of it is right."""
        return given is not None and secrets.compare_digest(given.encode("utf-8", "replace"), self.token.encode())


class Guard:
    """Stands before the page: refuses strangers, limits what is sent, says what a browser may load."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self.app, self.keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        by_address = self.keys.fits(QueryParams(scope["query_string"]).get("key"))
        most = LARGEST_UPLOAD if scope["path"] == UPLOAD else LARGEST_FORM
        refused = self._refused(scope["method"], headers, by_address) or too_long(headers, most)
        if refused:
            await refused(scope, receive, self._dressed(send, False))
        else:
            await self.app(scope, limited(receive, most), self._dressed(send, by_address))

    def _refused(self, method: str, headers: Headers, by_address: bool) -> PlainTextResponse | None:
        if headers.get("host") not in self.keys.hosts:
            return PlainTextResponse("This page answers to 127.0.0.1 alone.", 403)
        origin = headers.get("origin")
        if method not in _SAFE and origin is not None and origin.removeprefix("http://") not in self.keys.hosts:
            return PlainTextResponse("Another site may not change anything here.", 403)
        if not by_address and not self.keys.fits(cookie_parser(headers.get("cookie", "")).get(self.keys.cookie)):
            return PlainTextResponse("Open the whole address that the command printed, with its key.", 403)
        return None

    def _dressed(self, send: Send, with_cookie: bool) -> Send:
        """Adds the headers that every answer has; one that brings its own policy keeps it."""

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                if with_cookie:
                    cookie = f"{self.keys.cookie}={self.keys.token}; Path=/; HttpOnly; SameSite=Strict"
                    headers.append("Set-Cookie", cookie)
            await send(message)

        return dressed


def too_long(headers: Headers, most: int) -> PlainTextResponse | None:
    """A refusal of what is longer than allowed, or of a length that is no number."""
    told = headers.get("content-length", "0")
    fits = told.isascii() and told.isdecimal() and len(told) < 16 and int(told) <= most
    return None if fits else PlainTextResponse(_at_most(most), 413)


def _at_most(most: int) -> str:
    return f"At most {most // MIB} MiB at once."


def limited(receive: Receive, most: int) -> Receive:
    """What is received, up to ``most`` bytes, whatever length was told before."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413, _at_most(most))
        return message

    return counted
