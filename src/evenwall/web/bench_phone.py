"""A door for one phone: a second small server on a network address, opened when the user asks, that has only the bench.

The QR code holds a key that works once; the phone gets its own key for it as a cookie. Both lie in the ledger as
hashes, so a restarted server knows its phone. The key stands behind the # of the address, where no log sees it.
"""

from __future__ import annotations

import contextlib
import hmac
import ipaddress
import secrets
import socket
import threading
from dataclasses import dataclass, field
from hashlib import sha256
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final

import segno
import uvicorn
from fastapi import APIRouter, FastAPI, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.staticfiles import StaticFiles

from evenwall.bench.ledger import reading, writing
from evenwall.errors import InputError
from evenwall.web.bench import HOME, PARTS, Bench, page_of, routes

COOKIE: Final = "evenwall-phone"
ENTER: Final = f"{HOME}/enter"
OPEN_PARTS: Final = ("main.js", "enter.js", "words.js", "bench.css")  # what the way in is made of
OPEN_PATHS: Final = (ENTER, *(f"/parts/bench/{part}" for part in OPEN_PARTS), f"{HOME}/api/words/")
LASTS: Final = 86_400.0  # a door shuts after a day [s]
MOST_BODY: Final = 21_000_000  # bytes


@dataclass(kw_only=True)
class Doorway:
    """The phone's server of one app; at most one door is open."""

    bench: Bench
    serving: uvicorn.Server | None = None
    thread: threading.Thread | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)


@dataclass(frozen=True, kw_only=True)
class Door:
    """An open door as the user sees it."""

    url: str
    picture: str  # QR code as a data address


def addresses() -> list[str]:
    """This computer's private network addresses (IPv4), the one that leads out first."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # a documentation address: nothing is sent
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    private = [one for one in dict.fromkeys(found) if ipaddress.ip_address(one).is_private]
    return [one for one in private if not ipaddress.ip_address(one).is_loopback]


def open_door(doorway: Doorway, casting: str, address: str, *, allowed: list[str]) -> Door:
    """Open the bench of `casting` to one phone on `address`; raises InputError where that can't be."""
    if address not in allowed:
        raise InputError(
            f"address {address} is not one of this computer's: choose one of {', '.join(allowed)}"
        )
    close_door(doorway)
    key = secrets.token_urlsafe(18)
    place = _listen(address, 0)
    port = place.getsockname()[1]
    row = (casting, address, port, _hash(key), doorway.bench.ledger.clock())
    with writing(doorway.bench.ledger) as db:
        db.execute("INSERT INTO doors (casting, address, port, key_hash, opened) VALUES (?, ?, ?, ?, ?)", row)
    _serve(doorway, place, f"{address}:{port}")
    url = f"http://{address}:{port}{ENTER}#{key}"
    return Door(url=url, picture=segno.make_qr(url).svg_data_uri(scale=8, border=4))


def close_door(doorway: Doorway) -> None:
    """Shut the door; the phone's key is worth nothing any more."""
    with doorway.lock:
        stop(doorway)
        with writing(doorway.bench.ledger) as db:
            db.execute("UPDATE doors SET closed = ? WHERE closed IS NULL", (doorway.bench.ledger.clock(),))


def stop(doorway: Doorway) -> None:
    """Stop serving and leave the door as it is in the ledger, for the next start."""
    if doorway.serving and doorway.thread:
        doorway.serving.should_exit = True
        doorway.thread.join(timeout=5)
    doorway.serving = doorway.thread = None


def reopen_door(doorway: Doorway) -> bool:
    """After a restart: serve again a door that was open, on the same address, for the phone that knows it."""
    row = _open_row(doorway)
    if row is None:
        return False
    try:
        place = _listen(row["address"], row["port"])
    except InputError:
        return False
    _serve(doorway, place, f"{row['address']}:{row['port']}")
    return True


def is_open(doorway: Doorway) -> bool:
    """Whether a phone may come in."""
    return doorway.serving is not None and _open_row(doorway) is not None


def desk_routes(doorway: Doorway) -> APIRouter:
    """Routes of the app's own window: which addresses there are, open, shut."""
    router = APIRouter(prefix=f"{HOME}/api/phone")

    @router.get("")
    def status() -> dict[str, Any]:
        return {"addresses": addresses(), "open": is_open(doorway)}

    @router.post("/open")
    async def opened(request: Request) -> Response:
        asked = await request.json()
        try:
            door = await run_in_threadpool(
                open_door, doorway, str(asked["casting"]), str(asked["address"]), allowed=addresses()
            )
        except (InputError, KeyError) as error:
            return JSONResponse({"error": str(error)}, 422)
        return JSONResponse({"url": door.url, "picture": door.picture})

    @router.post("/close")
    def closed() -> dict[str, Any]:
        close_door(doorway)
        return {"open": False}

    return router


def phone_app(doorway: Doorway, host: str) -> Any:
    """The phone's whole app: the bench of one casting, and the way in."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app.include_router(routes(doorway.bench, desk=False))
    app.mount("/parts/bench", StaticFiles(directory=PARTS))

    @app.get(ENTER)
    def enter() -> Response:
        return FileResponse(PARTS / "bench.html")

    @app.post(ENTER)
    async def use_key(request: Request) -> Response:
        key = (await request.body()).decode("utf-8", "replace")[:100]
        found = await run_in_threadpool(_use_key, doorway, key)
        if found is None:
            return JSONResponse({"error": "used"}, 403)
        casting, own = found
        answer = JSONResponse({"to": page_of(casting)})
        answer.set_cookie(COOKIE, own, max_age=int(LASTS), httponly=True, samesite="strict")
        return answer

    @app.middleware("http")
    async def guard(request: Request, go_on: Any) -> Response:
        if refusal := await run_in_threadpool(_refusal, doorway, request, host):
            return JSONResponse({"error": refusal}, 403)
        answer: Response = await go_on(request)
        answer.headers["content-security-policy"] = "default-src 'self'; img-src 'self' data: blob:"
        answer.headers["x-content-type-options"] = "nosniff"
        answer.headers["referrer-policy"] = "no-referrer"
        return answer

    return app


def _refusal(doorway: Doorway, request: Request, host: str) -> str:
    """Why a request may not pass; empty where it may."""
    if request.headers.getlist("host") != [host]:
        return "its Host is not this door's address"
    origin = request.headers.get("origin")
    if origin not in (None, f"http://{host}") or (request.method != "GET" and origin is None):
        return "its Origin is not this door's address"
    if request.method not in ("GET", "POST"):
        return "this method is not served here"
    length = request.headers.get("content-length", "0")
    if not length.isdigit() or int(length) > MOST_BODY or "transfer-encoding" in request.headers:
        return "it is too long"
    row = _open_row(doorway)
    if row is None:
        return "the door is shut"
    path = request.url.path
    if path in OPEN_PATHS or path.startswith(OPEN_PATHS[-1]):
        return ""
    if not _knows(row["phone_hash"], request.headers.get("cookie", "")):
        return "this phone has no key: scan a new code at the computer"
    own = (page_of(row["casting"]), f"{HOME}/api/castings/{row['casting']}")
    if path in own or path.startswith(("/parts/bench/", f"{own[1]}/")):
        return ""
    return "a phone can do the bench of its casting and nothing else"


def _use_key(doorway: Doorway, key: str) -> tuple[str, str] | None:
    """The casting and the phone's own key for the key of the QR code, once; None where it is not good."""
    own = secrets.token_urlsafe(24)
    with writing(doorway.bench.ledger) as db:
        changed = db.execute(
            "UPDATE doors SET phone_hash = ? WHERE closed IS NULL AND phone_hash IS NULL AND key_hash = ?",
            (_hash(own), _hash(key)),
        ).rowcount
    row = _open_row(doorway)
    return (row["casting"], own) if changed and row else None


def _open_row(doorway: Doorway) -> dict[str, Any] | None:
    names = ("casting", "address", "port", "phone_hash", "opened")
    with reading(doorway.bench.ledger) as db:
        row = db.execute(
            f"SELECT {', '.join(names)} FROM doors WHERE closed IS NULL ORDER BY number DESC LIMIT 1"
        ).fetchone()
    if row is None or doorway.bench.ledger.clock() - row[-1] > LASTS:
        return None
    return dict(zip(names, row, strict=True))


def _knows(phone_hash: str | None, cookies: str) -> bool:
    try:
        jar = SimpleCookie(cookies)
    except CookieError:
        return False
    return (
        bool(phone_hash) and COOKIE in jar and hmac.compare_digest(_hash(jar[COOKIE].value), str(phone_hash))
    )


def _hash(key: str) -> str:
    return sha256(key.encode()).hexdigest()


def _listen(address: str, port: int) -> socket.socket:
    place = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        place.bind((address, port))
        place.listen()  # a phone that scans at once waits for the server instead of being refused
    except OSError as error:
        place.close()
        raise InputError(f"address {address} can't be opened ({error.strerror}): choose another") from None
    return place


def _serve(doorway: Doorway, place: socket.socket, host: str) -> None:
    """Serve the phone's app in a thread of its own until the door is shut."""
    config = uvicorn.Config(
        phone_app(doorway, host), log_level="warning", access_log=False, timeout_graceful_shutdown=2
    )
    doorway.serving = uvicorn.Server(config)
    doorway.thread = threading.Thread(target=doorway.serving.run, kwargs={"sockets": [place]}, daemon=True)
    doorway.thread.start()
