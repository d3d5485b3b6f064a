"""The door of the app: who may come in, on http and websocket scopes alike, before anything else sees the request.

A request passes when its Host is one that we serve, its Origin (if any) is that Host, a page of another site did not
send it, and it carries this start's token as a cookie. The first visit brings the token in its address, gets the
cookie and is sent on to the address without it. A second cookie with a key that outlives the start opens some paths.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qs, urlencode

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

SAFE_METHODS: Final = frozenset({"GET", "HEAD"})
METHODS: Final = SAFE_METHODS | {"POST", "PUT", "DELETE"}
POLICY: Final = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; worker-src 'self' blob:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-frame-options", b"DENY"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
CLOSED = """<!doctype html><html lang="en"><meta charset="utf-8"><title>evenwall</title>
<meta name="viewport" content="width=device-width,initial-scale=1"><meta name="color-scheme" content="light dark">
<body style="font:1.1rem/1.5 Georgia,serif;max-width:34rem;margin:4rem auto;padding:0 1rem"><h1>{what}</h1>
<p>{remedy}</p></body></html>"""


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Why a request stays outside."""

    status: int  # HTTP status
    what: str  # one sentence
    remedy: str  # what the user can do


@dataclass(frozen=True, kw_only=True)
class Pass:
    """A key that outlives the start and opens some paths only."""

    key: str
    cookie: str  # name of its cookie
    lasts: int  # a browser keeps it so long [s]
    opens: Callable[[str], bool]  # whether it opens this path


class Guard:
    """ASGI middleware round the whole app; see the module's docstring for the rule."""

    def __init__(
        self,
        app: App,
        *,
        hosts: frozenset[str],
        token: str,
        cookie: str,
        most: int,
        lasting: Pass | None = None,
    ) -> None:
        """`hosts`: Host headers served, as `name:port`; `most`: largest request body [bytes]."""
        self.app, self.hosts, self.token, self.cookie, self.most = app, hosts, token, cookie, most
        self.lasting = lasting

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, send it to the address without the token, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] not in ("http", "websocket"):
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        if scope["type"] == "http" and self._brings_token(scope, headers):
            await self._welcome(scope, headers, send)
        elif (refusal := self.refusal(scope, headers)) is not None:
            await _refuse(scope, refusal, send)
        elif scope["type"] == "websocket":
            await self.app(scope, receive, send)
        else:
            await self.app(scope, _limited(receive, self.most), _with_headers(send))

    def refusal(self, scope: Scope, headers: dict[bytes, bytes]) -> Refusal | None:
        """Why this request may not pass; None where it may."""
        socket = scope["type"] == "websocket"
        method = "GET" if socket else scope["method"]
        if stranger := self._stranger(scope, headers, needs_origin=socket or method not in SAFE_METHODS):
            return Refusal(status=403, what="This request came from somewhere else.", remedy=stranger)
        if method not in METHODS:
            return Refusal(
                status=405, what=f"{method} is not served here.", remedy="Use the app's own pages."
            )
        if not self._knows(scope, headers):
            return Refusal(
                status=403,
                what="This window belongs to an earlier start of evenwall.",
                remedy="Open the address that evenwall printed when it started, then reload this one. "
                "Your job is safe: it lives in its folder.",
            )
        length = headers.get(b"content-length", b"0")
        if not length.isdigit() or int(length) > self.most:
            limit = f"The limit is {self.most / 1e6:.0f} MB: thin the mesh out, or compress it with gzip."
            return Refusal(status=413, what="This file is too large.", remedy=limit)
        return None

    def _stranger(self, scope: Scope, headers: dict[bytes, bytes], *, needs_origin: bool) -> str:
        """What shows that a request is not from our own pages, as a sentence; empty where nothing does."""
        hosts = [value for name, value in scope["headers"] if name.lower() == b"host"]
        if len(hosts) != 1 or hosts[0].decode("latin-1").lower() not in self.hosts:
            return "Its Host is not this app's address."
        origin = headers.get(b"origin")
        scheme = b"https" if scope.get("scheme") in ("https", "wss") else b"http"
        if origin is not None and origin.lower() != scheme + b"://" + hosts[0].lower():
            return "Its Origin is not this app's address."
        if origin is None and needs_origin:
            return "It changes something and does not say where it comes from."
        site = headers.get(b"sec-fetch-site", b"none")
        visit = (
            headers.get(b"sec-fetch-mode") == b"navigate" and headers.get(b"sec-fetch-dest") == b"document"
        )
        if site not in (b"none", b"same-origin") and not (visit and not needs_origin):
            return "A page of another site sent it."
        return ""

    def _knows(self, scope: Scope, headers: dict[bytes, bytes]) -> bool:
        try:
            jar = SimpleCookie(headers.get(b"cookie", b"").decode("latin-1"))
        except CookieError:
            return False
        if _holds(jar, self.cookie, self.token):
            return True
        lasting = self.lasting
        if lasting is None or scope["type"] != "http" or not lasting.opens(scope["path"]):
            return False
        return _holds(jar, lasting.cookie, lasting.key)

    def _brings_token(self, scope: Scope, headers: dict[bytes, bytes]) -> bool:
        if scope["method"] != "GET" or self._stranger(scope, headers, needs_origin=False):
            return False
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        return hmac.compare_digest(given.encode(), self.token.encode())

    async def _welcome(self, scope: Scope, headers: dict[bytes, bytes], send: Send) -> None:
        asked = parse_qs(scope["query_string"].decode("latin-1"))
        rest = urlencode({name: values for name, values in asked.items() if name != "token"}, doseq=True)
        path = "/" + scope["raw_path"].decode("latin-1").lstrip("/")
        to = path + (f"?{rest}" if rest else "")
        cookie = f"{self.cookie}={self.token}; Path=/; HttpOnly; SameSite=Strict"
        extra = [
            (b"location", to.encode("latin-1")),
            (b"set-cookie", cookie.encode()),
            (b"cache-control", b"no-store"),
        ]
        if self.lasting:
            own = f"{self.lasting.cookie}={self.lasting.key}; Path=/; Max-Age={self.lasting.lasts}; HttpOnly"
            extra.append((b"set-cookie", f"{own}; SameSite=Strict".encode()))
        await send({"type": "http.response.start", "status": 303, "headers": [*extra, *HEADERS]})
        await send({"type": "http.response.body", "body": b""})


def _holds(jar: SimpleCookie, name: str, key: str) -> bool:
    return name in jar and hmac.compare_digest(jar[name].value.encode(), key.encode())


async def _refuse(scope: Scope, refusal: Refusal, send: Send) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": refusal.what})
        return
    body = CLOSED.format(what=refusal.what, remedy=refusal.remedy).encode()
    headers = [(b"content-type", b"text/html; charset=utf-8"), (b"cache-control", b"no-store"), *HEADERS]
    await send({"type": "http.response.start", "status": refusal.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _limited(receive: Receive, most: int) -> Receive:
    """`receive` that hangs up once more than `most` bytes of body came in (a body need not say its length)."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        return {"type": "http.disconnect"} if taken > most else message

    return limited


def _with_headers(send: Send) -> Send:
    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name for name, _ in HEADERS}
            kept = [(name, value) for name, value in message.get("headers", []) if name.lower() not in own]
            message = {**message, "headers": [*kept, *HEADERS]}
        await send(message)

    return sender
