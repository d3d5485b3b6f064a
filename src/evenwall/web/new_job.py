"""New job folders, made from the start page; the demo comes with its forecast, computed once for all times."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any, Final

import platformdirs

from evenwall.files.demo import DEMO, has_job, make_demo
from evenwall.files.job_file import NAME, check_job, job_text, write_whole
from evenwall.files.results import FOLDER, fingerprint
from evenwall.web.desk import Desk, Shop
from evenwall.web.runs import Runs
from evenwall.web.work import read

FIRST: Final = "run-1"  # name of the demo's first forecast


def new_job(shop: Shop, *, name: str, readings: bool = False) -> Path:
    """A new folder with a job in it; `readings`: it begins with an earlier hollow casting's weight."""
    tables: dict[str, Any] = {"name": name}
    if readings:
        tables["piece"] = {"readings": [{"way": "hollow casting"}]}
    number = 1
    while (shop.home / f"job-{number}").exists():
        number += 1
    folder = shop.home / f"job-{number}"
    folder.mkdir(parents=True)
    write_whole(folder / NAME, job_text(check_job(tables)).encode())
    return folder


def new_demo(shop: Shop) -> Path:
    """The demo's folder, made where it is not there yet; its forecast comes with it if it was ever made."""
    folder = shop.home / "demo"
    if not has_job(folder):
        make_demo(folder)
        if (kept := _kept_demo()).is_dir():
            shutil.copytree(kept, folder / FOLDER)
        read(folder)
    return folder


def forecast_demo(desk: Desk, runs: Runs) -> None:
    """Begin the demo's forecast beside the app unless there is one, and keep it for the next demo."""
    if any((desk.folder / FOLDER).glob("run-*")):
        return

    def ended() -> None:
        if (desk.folder / FOLDER / f"{FIRST}.json").exists() and desk.file.model_dump() == DEMO.model_dump():
            _keep(desk.folder / FOLDER)
        desk.tell()

    runs.start(desk.key, "forecast", desk.folder, FIRST, "quick", told=desk.tell_work, ended=ended)


def _kept_demo() -> Path:
    """Where the demo's results lie in the user's cache."""
    key = fingerprint("demo", DEMO.model_dump())
    return platformdirs.user_cache_path("evenwall", appauthor=False) / f"demo-{key}"


def _keep(results: Path) -> None:
    kept = _kept_demo()
    part = kept.with_suffix(".part")
    shutil.rmtree(part, ignore_errors=True)
    shutil.copytree(results, part)
    shutil.rmtree(kept, ignore_errors=True)
    part.rename(kept)
