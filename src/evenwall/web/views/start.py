"""The first page: a demo, a new piece, a mold without a scan, or a job of before."""

from __future__ import annotations

import os
from typing import Any

from nicegui import ui

from evenwall.errors import EvenwallError
from evenwall.files.job_file import NAME, read_job_file
from evenwall.web import urls
from evenwall.web.desk import Shop, key_of
from evenwall.web.new_job import new_demo, new_job
from evenwall.web.tags import knob, link, tag, words
from evenwall.web.window import head


def build(shop: Shop) -> None:
    """The whole page."""
    head("Start")
    with tag("main", "start"):
        words("h1", "evenwall")
        words("p", "Plan, run and learn from hollow castings turned by hand in closed molds.", "lead")
        with tag("div", "doors"):
            _door(
                "Look at the demo",
                "Hollow ammonites for a museum's shop: everything is filled in.",
                "Open the demo",
                lambda: _go(shop, lambda: new_demo(shop)),
                main=True,
            )
            _door(
                "A new piece",
                "You have a scan or model: STL, OBJ, PLY, 3MF or GLB.",
                "Start with a mesh",
                lambda: _go(shop, lambda: new_job(shop, name="a new piece")),
            )
            _door(
                "A mold without a scan",
                "The weight of one earlier casting and a few caliper readings will do.",
                "Start without a scan",
                lambda: _go(shop, lambda: new_job(shop, name="a mold without a scan", readings=True)),
            )
        _recent(shop)


def _door(title: str, text: str, button: str, go: Any, *, main: bool = False) -> None:
    with tag("section", "sheet"):
        words("h2", title)
        words("p", text)
        knob(button, go, "main" if main else "")


def _go(shop: Shop, make: Any) -> None:
    try:
        folder = make()
        desk = shop.open(folder)
    except (EvenwallError, OSError) as error:
        ui.notify(str(error), type="negative", timeout=0, close_button="OK")
        return
    ui.navigate.to(urls.view(desk.key, "piece"))


def _recent(shop: Shop) -> None:
    folders = shop.recent()
    if not folders:
        return
    with tag("section", "sheet"):
        words("h2", "Jobs of before")
        with tag("ul", "plain-list"):
            for folder in folders:
                with tag("li"):
                    link(_name(folder), urls.view(key_of(folder), "piece"), dir="auto")
                    words("small", f" in {os.fspath(folder)}", dir="auto")


def _name(folder: Any) -> str:
    try:
        return read_job_file(folder).name
    except EvenwallError:
        return f"{folder.name} (its {NAME} can't be read)"
