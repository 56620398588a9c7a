"""Who may ask the server anything: the browser that came with the key, from our own page, and nobody else.

A server on this machine can be reached by every page that the user has open elsewhere, so each request has to show three
things: that it means us (Host, exactly), that our own page sent it (Origin, Sec-Fetch-Site; Fetch Metadata, W3C 2021) and that
its browser once had the key (a cookie that scripts cannot read and that goes nowhere else). The key serves once.
"""

from __future__ import annotations

import asyncio
import hmac
import secrets
from collections.abc import Callable
from typing import Any, Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_FILE: Final = 1 << 30  # bytes that one request may bring where it brings files
LARGEST_FORM: Final = 1 << 20  # else
PATIENCE_S: Final = 60  # for the next piece of a request; a client that is slower is let go
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
# What a report is shown with: a place of its own, from which nothing here can be asked.
SANDBOX: Final = "sandbox allow-scripts allow-downloads; frame-ancestors 'none'"
_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Keys:
    """The key that lets a browser in, once, and the cookie that it gets for it; new at every start, kept in memory only.

    renewed : told when a key was used up and another one takes its place
    """

    def __init__(self, renewed: Callable[[str], None] = lambda key: None) -> None:
        self.key, self.cookie, self._renewed = secrets.token_urlsafe(32), secrets.token_urlsafe(32), renewed

    def take(self, key: str) -> bool:
        """Whether this is the key; from then on it is another one."""
        if not hmac.compare_digest(key.encode(), self.key.encode()):
            return False
        self.key = secrets.token_urlsafe(32)
        self._renewed(self.key)
        return True


class Guard:
    """Lets through what may pass, and puts on every answer what a browser is to know about it.

    seen : told at every request that passed
    """

    def __init__(self, app: ASGIApp, *, port: int, keys: Keys, seen: Callable[[], None] = lambda: None) -> None:
        self.app, self.keys, self.seen = app, keys, seen
        self.host = f"127.0.0.1:{port}"
        self.name = f"reach-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """An ASGI application."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self._refused(scope)
        if refused:
            await PlainTextResponse(refused[1] + "\n", refused[0])(scope, receive, with_headers)
            return
        self.seen()
        await self.app(scope, _bounded(scope, receive), with_headers)

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        """Status and sentence where a request may not pass."""
        headers = Headers(scope=scope)
        if headers.getlist("host") != [self.host] or not scope.get("raw_path", b"/").startswith(b"/"):
            return 421, "This address is not served here."
        if scope["method"] not in ("GET", "HEAD", "POST", "PUT"):
            return 405, "This is not done here."
        if scope["path"] == "/open" and scope["method"] == "GET":
            return self._opening(scope)
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        changes = scope["method"] in ("POST", "PUT")
        if site not in (None, "same-origin") and not (site == "none" and not changes):
            return 403, "Only the page of reach itself may ask for this."
        if (changes or origin is not None) and origin != f"http://{self.host}":
            return 403, "Only the page of reach itself may ask for this."
        if not self._has_cookie(headers):
            return 403, "Open this page the way it was opened first: start reach again, or open 'Open reach.html'."
        announced = headers.get("content-length", "0")
        if not announced.isdigit() or int(announced) > _most(scope):
            return 413, f"That is more than the {_most(scope) >> 20:,} MB that are taken at once; divide it."
        return None

    def _opening(self, scope: Scope) -> tuple[int, str] | None:
        asked = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])
        if self.keys.take(asked[0]):
            return None
        return 403, "This key was used already, or is none: start reach again, or open 'Open reach.html'."

    def _has_cookie(self, headers: Headers) -> bool:
        pairs = [pair.strip().partition("=") for line in headers.getlist("cookie") for pair in line.split(";")]
        held = [value for name, _, value in pairs if name == self.name]
        return any(hmac.compare_digest(value.encode(), self.keys.cookie.encode()) for value in held)


def _most(scope: Scope) -> int:
    return LARGEST_FILE + LARGEST_FORM if "/files" in scope["path"] else LARGEST_FORM


def _bounded(scope: Scope, receive: Receive) -> Receive:
    """What a request brings, piece by piece: no more than it may, and no slower than anyone would wait."""
    brought, most = 0, _most(scope)

    async def received() -> Any:
        nonlocal brought
        try:
            message = await asyncio.wait_for(receive(), PATIENCE_S) if brought >= 0 else await receive()
        except TimeoutError:
            raise HTTPException(408, "Nothing more came for a minute, so that it was given up.") from None
        if message["type"] == "http.request":
            brought += len(message.get("body", b""))
            if brought > most:
                raise HTTPException(413, f"That is more than the {most >> 20:,} MB that are taken at once; divide it.")
            if not message.get("more_body"):
                brought = -1  # all of it is here: what comes now is only that the browser left
        return message

    return received
