"""Work beside the app ends: by itself, when it is stopped, when its time is up."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pytest

from evenwall.files.demo import binary_stl
from evenwall.geometry.surface import Surface
from evenwall.web import runs as runs_module
from evenwall.web.runs import Runs, Task

T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A job with a tetrahedron for a piece."""
    corners = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0], [0, 0, 0.1]], dtype=np.float64)
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    (tmp_path / "piece.stl").write_bytes(binary_stl(Surface(corners, faces)))
    (tmp_path / "job.toml").write_text('[piece]\nmesh = "piece.stl"\nunit = "mm"\n', encoding="utf-8")
    return tmp_path


def _run(walk: Coroutine[Any, Any, T]) -> T:
    """Walk on a loop of its own in a thread of its own: browser tests keep one running in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, walk).result()


async def _end(task: Task) -> None:
    while not task.done:
        await asyncio.sleep(0.02)


def test_a_piece_is_read_in_a_process_of_its_own(folder: Path) -> None:
    told: list[str] = []

    async def walk() -> Task:
        runs = Runs()
        task = runs.start("key", "read", folder, told=lambda: None, ended=lambda: told.append("ended"))
        assert runs.start("key", "read", folder, told=lambda: None, ended=lambda: None) is task
        await _end(task)
        await asyncio.sleep(0.05)
        return task

    task = _run(walk())
    assert task.error == ""
    assert task.result
    assert told == ["ended"]
    assert (folder / "results" / "piece.npz").exists()


def test_a_worker_that_does_not_heed_is_ended(folder: Path) -> None:
    async def walk() -> Task:
        runs = Runs()
        task = runs.start("key", "read", folder, told=lambda: None, ended=lambda: None)
        while not runs._processes:
            await asyncio.sleep(0.01)
        await runs.stop("key", "read")
        await _end(task)
        return task

    task = _run(walk())
    assert task.error.startswith("stopped before") or task.result


def test_a_worker_whose_time_is_up_is_ended_and_that_is_said(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runs_module, "SECONDS_TO_READ", 0.05)

    async def walk() -> tuple[Task, str]:
        runs = Runs()
        task = runs.start("key", "read", folder, of="a mesh", told=lambda: None, ended=lambda: None)
        await _end(task)
        return task, runs.refusal("key", "read", of="a mesh")

    task, refusal = _run(walk())
    assert "took over 0 s" in task.error
    assert refusal == task.error
    assert not (folder / "results" / "piece.npz").exists()
