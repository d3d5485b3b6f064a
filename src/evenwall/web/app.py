"""Starts the app: one server for this machine's browser, behind the guard, with a fresh token at every start."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import secrets
import socket
import sqlite3
import sys
import time
import webbrowser
from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlencode

from evenwall.errors import InputError
from evenwall.web import urls
from evenwall.web.desk import Shop
from evenwall.web.guard import Guard

HOST: Final = "127.0.0.1"
PORT: Final = 8471  # the first that is tried, so that bookmarks go on working
PORTS: Final = 20  # how many are tried
MOST_UPLOAD: Final = 300_000_000  # bytes
LOOK_EVERY: Final = 0.5  # seconds between looks at the job folders


def serve(
    jobs: Sequence[Path] = (),
    *,
    port: int | None = None,
    browser: bool = True,
    memory: Path | None = None,
    home: Path | None = None,
) -> None:
    """Serve the app until it is stopped (Ctrl-C), and open `jobs` in it.

    `port`: this one and no other; the first free one from 8471 on where it is 0 or not given. `browser`: open the
    user's browser. `memory`: file that remembers the latest jobs; `home`: folder for new ones and the ledger.
    Raises InputError where the port is taken, JobError for a folder that holds no job. It listens on this
    machine's loopback only.
    """
    shop = Shop(memory=memory, home=home)
    desks = [shop.open(folder) for folder in jobs]
    door = _door(port)
    number = door.getsockname()[1]
    token = secrets.token_urlsafe(24)
    app = build(shop, token=token, port=number)
    path = urls.view(desks[0].key, "piece") if desks else urls.START
    address = f"http://{HOST}:{number}{path}?{urlencode({'token': token})}"
    print(f"evenwall is open at {address}\nStop it with Ctrl-C.", file=sys.stderr, flush=True)
    if browser:
        webbrowser.open(address)
    _run(app, door)


def build(shop: Shop, *, token: str, port: int) -> Guard:
    """The whole app behind its guard."""
    from fastapi import FastAPI
    from nicegui import ui
    from starlette.staticfiles import StaticFiles

    from evenwall.bench.ledger import backup_daily, open_ledger
    from evenwall.web import api, bench, bench_phone, pages
    from evenwall.web.bench_key import bench_pass
    from evenwall.web.runs import Runs

    runs = Runs()
    book = open_ledger(shop.home, clock=time.time)
    try:
        backup_daily(book)
    except (OSError, sqlite3.Error) as fault:  # a full disk for copies must not keep the shop closed
        logging.getLogger(__name__).warning("the ledger could not be copied: %s", fault)
    phone = bench_phone.Doorway(bench=bench.Bench(ledger=book))

    @contextlib.asynccontextmanager
    async def life(_: Any) -> AsyncIterator[None]:
        watching = asyncio.create_task(_watch(shop))
        bench_phone.reopen_door(phone)
        yield
        bench_phone.stop(phone)
        watching.cancel()
        await runs.close()

    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, lifespan=life)
    app.mount(urls.PARTS, StaticFiles(directory=Path(__file__).parent / "parts"))
    app.include_router(api.routes(shop, runs))
    app.include_router(bench_phone.desk_routes(phone))
    app.include_router(bench.routes(phone.bench, desk=True))
    pages.register(shop, runs, book)
    ui.run_with(
        app,
        title="evenwall",
        reconnect_timeout=600.0,
        tailwind=False,
        show_welcome_message=False,
        language="en-US",
        favicon=Path(__file__).parent / "parts" / "mark.svg",
    )
    hosts = frozenset(f"{name}:{port}" for name in (HOST, "localhost"))
    return Guard(
        app,
        hosts=hosts,
        token=token,
        cookie=f"evenwall-{port}",
        most=MOST_UPLOAD,
        lasting=bench_pass(shop.memory.parent, port=port),
    )


def _door(port: int | None) -> socket.socket:
    """A listening place on this machine only."""
    for number in [port] if port else [*range(PORT, PORT + PORTS), 0]:
        door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if sys.platform != "win32":
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((HOST, number))
            door.listen(128)  # who comes before the server is up waits
        except OSError:
            door.close()
            continue
        return door
    raise InputError(f"port {port} is taken: choose another with --port, or leave --port out")


def _run(app: Guard, door: socket.socket) -> None:
    import uvicorn

    logging.getLogger("uvicorn.error").setLevel(logging.WARNING)
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, timeout_graceful_shutdown=2, lifespan="on"
    )
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[door])


async def _watch(shop: Shop) -> None:
    """See what other programs write into the open job folders."""
    while True:
        await asyncio.sleep(LOOK_EVERY)
        for desk in list(shop.desks.values()):
            with contextlib.suppress(OSError):
                desk.look()
