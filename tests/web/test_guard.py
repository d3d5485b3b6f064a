"""The guard lets in this machine's own browser window, and nobody else."""

from __future__ import annotations

import contextlib
from typing import Any

import pytest

from evenwall.web.guard import Guard

HOST = "127.0.0.1:8471"
OWN = {"host": HOST, "cookie": "evenwall-8471=secret"}


async def page(scope: Any, receive: Any, send: Any) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    message = {"more_body": True}
    while message.get("more_body"):
        message = await receive()
        if message["type"] == "http.disconnect":
            return
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-type", b"text/plain")]})
    await send({"type": "http.response.body", "body": b"the page"})


def call(
    headers: dict[str, str],
    *,
    method: str = "GET",
    kind: str = "http",
    path: str = "/",
    query: str = "",
    body: tuple[bytes, ...] = (b"",),
    twice: tuple[str, str] | None = None,
) -> list[dict[str, Any]]:
    """What the guarded app answers to one request."""
    guard = Guard(
        page, hosts=frozenset({HOST, "localhost:8471"}), token="secret", cookie="evenwall-8471", most=100
    )
    lines = [(name.encode(), value.encode()) for name, value in headers.items()]
    lines += [(twice[0].encode(), twice[1].encode())] if twice else []
    scope = {
        "type": kind,
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": lines,
        "scheme": "ws" if kind == "websocket" else "http",
    }
    sent: list[dict[str, Any]] = []
    parts = list(body)

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": parts.pop(0), "more_body": bool(parts)}

    async def send(message: Any) -> None:
        sent.append(message)

    with contextlib.suppress(StopIteration):  # nothing here ever waits, so one step runs it to its end
        guard(scope, receive, send).send(None)
    return sent


def status(*args: Any, **options: Any) -> int:
    answer = call(*args, **options)
    return answer[0]["status"] if answer else 0


def test_own_window_passes_with_protecting_headers() -> None:
    start = call(OWN)[0]
    names = dict(start["headers"])
    assert start["status"] == 200
    assert b"frame-ancestors 'none'" in names[b"content-security-policy"]
    assert b"connect-src 'self'" in names[b"content-security-policy"]
    assert names[b"x-content-type-options"] == b"nosniff"


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:8471.evil.example", ""]
)
def test_rebound_host_is_refused(host: str) -> None:
    assert status(OWN | {"host": host}) == 403
    assert (
        call(OWN | {"host": host, "origin": f"http://{host}"}, kind="websocket")[0]["type"]
        == "websocket.close"
    )


def test_two_hosts_are_refused() -> None:
    assert status(OWN, twice=("host", "evil.example")) == 403


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1:9999", "https://127.0.0.1:8471"]
)
def test_other_origin_is_refused(origin: str) -> None:
    assert status(OWN | {"origin": origin}) == 403
    assert status(OWN | {"origin": origin}, method="POST") == 403
    assert call(OWN | {"origin": origin}, kind="websocket")[0]["type"] == "websocket.close"


def test_own_origin_passes_on_both_scopes() -> None:
    own = OWN | {"origin": f"http://{HOST}"}
    assert status(own, method="POST") == 200
    assert call(own, kind="websocket")[0]["type"] == "websocket.accept"


def test_a_change_must_say_where_it_comes_from() -> None:
    assert status(OWN, method="POST") == 403
    assert call(OWN, kind="websocket")[0]["type"] == "websocket.close"


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_page_of_another_site_reads_nothing(site: str) -> None:
    assert (
        status(OWN | {"sec-fetch-site": site, "sec-fetch-mode": "no-cors", "sec-fetch-dest": "image"}) == 403
    )
    assert (
        status(OWN | {"sec-fetch-site": site, "sec-fetch-mode": "navigate", "sec-fetch-dest": "iframe"})
        == 403
    )


@pytest.mark.parametrize(
    "cookie", ["", "evenwall-8471=wrong", "evenwall-9999=secret", "evenwall-8471=", "\x00=;"]
)
def test_without_this_starts_token_nothing_is_served(cookie: str) -> None:
    assert status(OWN | {"cookie": cookie}) == 403
    own = OWN | {"cookie": cookie, "origin": f"http://{HOST}"}
    assert call(own, kind="websocket")[0]["type"] == "websocket.close"


def test_token_in_the_address_becomes_a_strict_cookie() -> None:
    start = call({"host": HOST}, path="/job/abc/piece", query="token=secret&cut=x")[0]
    headers = dict(start["headers"])
    assert start["status"] == 303
    assert headers[b"location"] == b"/job/abc/piece?cut=x"
    assert b"SameSite=Strict" in headers[b"set-cookie"]
    assert b"HttpOnly" in headers[b"set-cookie"]


def test_welcome_never_leads_to_another_site() -> None:
    start = call({"host": HOST}, path="//evil.example/", query="token=secret")[0]
    assert dict(start["headers"])[b"location"] == b"/evil.example/"


def test_wrong_token_or_stranger_with_the_token_stays_outside() -> None:
    assert status({"host": HOST}, query="token=wrong") == 403
    assert status({"host": "evil.example"}, query="token=secret") == 403
    assert status({"host": HOST, "origin": "http://evil.example"}, query="token=secret") == 403


def test_large_bodies_are_refused_said_or_unsaid() -> None:
    own = OWN | {"origin": f"http://{HOST}"}
    assert status(own | {"content-length": "101"}, method="POST") == 413
    assert status(own | {"content-length": "-1"}, method="POST") == 413
    assert status(own, method="POST", body=(b"x" * 60, b"x" * 40)) == 200
    assert call(own, method="POST", body=(b"x" * 60, b"x" * 60)) == []


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "OPTIONS", "PATCH"])
def test_other_methods_are_refused(method: str) -> None:
    assert status(OWN | {"origin": f"http://{HOST}"}, method=method) == 405
