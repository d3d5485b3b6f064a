"""The first page: a demo, a new piece, a mold without a scan, or a job of before."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import run, ui

from evenwall.errors import EvenwallError
from evenwall.files.job_file import NAME, read_job_file
from evenwall.web import urls
from evenwall.web.desk import Desk, Shop, key_of
from evenwall.web.new_job import forecast_demo, new_demo, new_job
from evenwall.web.runs import Runs
from evenwall.web.tags import knob, link, sheet, tag, words
from evenwall.web.window import head


def build(shop: Shop, runs: Runs) -> None:
    """The whole page."""
    open_new = partial(_go, shop)

    async def demo() -> None:
        desk = await open_new(lambda: new_demo(shop))
        if desk is not None:
            forecast_demo(desk, runs)

    head("Start")
    with tag("div", "start"):
        words("h1", "evenwall")
        words("p", "Plan, run and learn from hollow castings turned by hand in closed molds.", "lead")
        with tag("div", "doors"):
            _door(
                "Look at the demo",
                "Hollow ammonites for a museum's shop: everything is filled in.",
                "Open the demo",
                demo,
                main=True,
            )
            _door(
                "A new piece",
                "You have a scan or model: STL, OBJ, PLY, 3MF or GLB.",
                "Start with a mesh",
                partial(open_new, lambda: new_job(shop, name="a new piece")),
            )
            _door(
                "A mold without a scan",
                "The weight of one earlier casting and a few caliper readings will do.",
                "Start without a scan",
                partial(open_new, lambda: new_job(shop, name="a mold without a scan", readings=True)),
            )
        _recent(shop)


def _door(title: str, text: str, button: str, go: Any, *, main: bool = False) -> None:
    with sheet(title):
        words("p", text)
        knob(button, go, "main" if main else "")


async def _go(shop: Shop, make: Callable[[], Path]) -> Desk | None:
    """Make a job and go to its first view; None where that failed, which is said."""
    client = ui.context.client
    ui.notify("Opening ...", type="ongoing", timeout=8000)
    try:
        folder = await run.io_bound(make)
        desk = shop.open(folder) if folder else None
    except (EvenwallError, OSError) as error:
        with client:
            ui.notify(str(error), type="negative", timeout=0, close_button="OK")
        return None
    if desk is not None:
        with client:
            ui.navigate.to(urls.view(desk.key, "piece"))
    return desk


def _recent(shop: Shop) -> None:
    folders = shop.recent()
    if not folders:
        return
    with sheet("Jobs of before"), tag("ul", "plain-list"):
        for folder in folders:
            with tag("li"):
                link(_name(folder), urls.view(key_of(folder), "piece"), dir="auto")
                words("small", f" in {os.fspath(folder)}", dir="auto")


def _name(folder: Path) -> str:
    try:
        return read_job_file(folder).name
    except EvenwallError:
        return f"{folder.name} (its {NAME} can't be read)"
