"""New job folders, made from the start page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from evenwall.files.demo import has_job, make_demo
from evenwall.files.job_file import NAME, check_job, job_text, write_whole
from evenwall.web.desk import Shop


def new_job(shop: Shop, *, name: str, readings: bool = False) -> Path:
    """A new folder with a job in it; `readings`: it begins with an earlier hollow casting's weight."""
    tables: dict[str, Any] = {"name": name}
    if readings:
        tables["piece"] = {"readings": [{"way": "hollow casting"}]}
    return _write(shop, "job", tables)


def new_demo(shop: Shop) -> Path:
    """The demo's folder, made where it is not there yet."""
    folder = shop.home / "demo"
    if not has_job(folder):
        make_demo(folder)
    return folder


def _write(shop: Shop, stem: str, tables: dict[str, Any]) -> Path:
    number = 1
    while (shop.home / f"{stem}-{number}").exists():
        number += 1
    folder = shop.home / f"{stem}-{number}"
    folder.mkdir(parents=True)
    write_whole(folder / NAME, job_text(check_job(tables)).encode())
    return folder
