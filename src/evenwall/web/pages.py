"""The pages of the app: the start and the eight views, each at its own address."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from functools import partial
from importlib import import_module
from typing import Any, Final

from nicegui import ui

from evenwall.bench.ledger import Ledger, castings
from evenwall.errors import EvenwallError
from evenwall.web import kept_runs, rooms, urls
from evenwall.web.desk import Shop
from evenwall.web.runs import Runs
from evenwall.web.tags import link, tag, words
from evenwall.web.views import bench, coats, forecast, ledger, machine, piece, resin, start, turning
from evenwall.web.window import Window, frame, head

VIEWS: Final = {
    "piece": piece,
    "resin": resin,
    "coats": coats,
    "machine": machine,
    "turning": turning,
    "forecast": forecast,
    "bench": bench,
    "ledger": ledger,
}
WITH_PICTURE: Final = frozenset({"piece", "forecast"})


def register(shop: Shop, runs: Runs, book: Ledger) -> None:
    """Make the pages known to the server."""
    import_module("nicegui.elements.scene")  # makes `nicegui-scene` known, which our 3-D view stands on

    @ui.page(urls.START)
    def _start() -> None:
        start.build(shop, runs)

    for name in urls.VIEWS:
        _register(shop, runs, book, name)


def _register(shop: Shop, runs: Runs, book: Ledger, name: str) -> None:
    view: Any = VIEWS[name]
    build: Callable[..., None] = (
        partial(view.build, ledger=book) if name in ("bench", "ledger") else view.build
    )

    @ui.page(urls.view("{key}", name))
    def _page(key: str) -> None:
        desk = shop.desk(key)
        if desk is None:
            _gone()
            return
        if name in WITH_PICTURE:
            ui.add_head_html(f'<script type="module" src="{urls.part("view.js")}"></script>')
        window = Window(desk, name)
        with frame(window, urls.VIEWS[name], view.LEAD, lambda: summaries(window, book)):
            window.area(lambda: _have_read(window, runs))
            _have_taken_in(window, runs)
            build(window, runs)


def _have_read(window: Window, runs: Runs) -> None:
    """Have the piece read in a process of its own unless that was done or tried; every view waits for it."""
    desk = window.desk
    with contextlib.suppress(EvenwallError):
        key = rooms.piece_key(desk.folder, desk.file)
        if not key or rooms.kept_piece(desk.folder, desk.file) or runs.refusal(desk.key, "read", of=key):
            return
        runs.start(desk.key, "read", desk.folder, of=key, told=desk.tell_work, ended=desk.tell)


def _have_taken_in(window: Window, runs: Runs) -> None:
    """Have the forecast of a plan that was made at the terminal among the kept ones."""
    desk = window.desk
    task = runs.task(desk.key, "forecast")
    if task is not None and not task.done:
        return
    with contextlib.suppress(EvenwallError):
        planned = rooms.plan_now(desk.folder, desk.file)
        if planned is not None:
            kept_runs.take_in(desk.folder, desk.file, planned)


def summaries(window: Window, book: Ledger) -> dict[str, str]:
    """The state of each view in a few words, for the job ticket; a view that can't say is silent."""
    desk = window.desk
    file = desk.file
    say: dict[str, Callable[[], str]] = {
        "piece": lambda: _piece(window),
        "resin": lambda: file.resin.name.replace("-", " "),
        "coats": lambda: _coats(window),
        "turning": lambda: f"{file.turning.frame_rpm:g} and {file.turning.cradle_rpm:g} turns/min",
        "machine": lambda: _machine(window),
        "forecast": lambda: _forecast(window),
        "bench": lambda: "run the day",
        "ledger": lambda: _ledger(book),
    }
    found = {}
    for name, sentence in say.items():
        try:
            found[name] = sentence()
        except EvenwallError:
            found[name] = "needs a look"
    return found


def _piece(window: Window) -> str:
    account = rooms.kept_piece(window.desk.folder, window.desk.file)
    return f"{window.amount(account.area, 'cm2')} of wall" if account else "not known yet"


def _coats(window: Window) -> str:
    day = rooms.day_now(window.desk.folder, window.desk.file)
    if day is None:
        return ""
    cups = day.weigh_out.shots
    mass = window.amount(sum(shot.mass for shot in cups), "g", digits=0)
    return f"{len(cups)} {'cup' if len(cups) == 1 else 'cups'}, {mass}"


def _machine(window: Window) -> str:
    report = rooms.balance(window.desk.folder, window.desk.file)
    return f"{report.rim_force:.1f} N at the rim" if report else ""


def _forecast(window: Window) -> str:
    runs = kept_runs.listed(window.desk.folder)
    return (
        f"{window.amount(runs[0].mean, 'mm')}, least {window.amount(runs[0].least, 'mm')}"
        if runs
        else "not run yet"
    )


def _ledger(book: Ledger) -> str:
    count = len(castings(book))
    return f"{count} {'casting' if count == 1 else 'castings'}"


def _gone() -> None:
    head("Not open")
    with tag("div", "start"):
        words("h1", "This job is not open here")
        words("p", "Its folder was moved, or it belongs to another evenwall.")
        link("To all jobs", urls.START, "knob main")
