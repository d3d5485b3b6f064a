"""Work that runs beside the app, one process each: its progress, its end, and stopping it within a second."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

SECONDS_TO_READ: Final = 180.0  # a mesh must be read, a worksheet typeset within
SECONDS_TO_STOP: Final = 0.9  # after that a worker is ended
BEST_EFFORT: Final = "the worker ended without an answer: its memory may have run out; try a smaller mesh"


@dataclass(kw_only=True)
class Task:
    """One piece of work under way."""

    what: str  # read, forecast or worksheet
    of: str = ""  # fingerprint of what it works on
    began: float = field(default_factory=time.monotonic)
    share: float = 0.0  # done []
    doing: str = "starting"
    error: str = ""
    done: bool = False
    stopping: bool = False
    result: str = ""

    @property
    def left(self) -> float | None:
        """Seconds that it will still take [s]; None while nobody can tell."""
        passed = time.monotonic() - self.began
        return passed * (1.0 - self.share) / self.share if self.share > 0.03 and passed > 2.0 else None


class Runs:
    """All work under way, at most one of a kind for a job."""

    def __init__(self) -> None:
        """Nothing runs yet."""
        self.tasks: dict[tuple[str, str], Task] = {}
        self._processes: dict[tuple[str, str], asyncio.subprocess.Process] = {}
        self._ends: dict[tuple[str, str], asyncio.Task[None]] = {}

    def task(self, key: str, what: str) -> Task | None:
        """The latest work of this kind for the job `key`."""
        return self.tasks.get((key, what))

    def refusal(self, key: str, what: str, *, of: str) -> str:
        """Why the latest work on `of` came to nothing; "" where it did not."""
        task = self.tasks.get((key, what))
        return task.error if task and task.done and task.of == of else ""

    def start(
        self,
        key: str,
        what: str,
        folder: Path,
        *more: str,
        of: str = "",
        told: Callable[[], None],
        ended: Callable[[], None],
    ) -> Task:
        """Start `what` for a job unless it runs already; `told()` is called on its way, `ended()` at its end."""
        running = self.tasks.get((key, what))
        if running and not running.done:
            return running
        task = self.tasks[key, what] = Task(what=what, of=of)
        end = asyncio.create_task(self._run((key, what), task, [what, str(folder), *more], told))
        end.add_done_callback(lambda _: ended())
        self._ends[key, what] = end
        return task

    async def finish(self, key: str, what: str, folder: Path) -> Task:
        """Do `what` for a job and wait for its end."""
        task = self.start(key, what, folder, told=lambda: None, ended=lambda: None)
        await asyncio.shield(self._ends[key, what])
        return task

    async def stop(self, key: str, what: str) -> None:
        """Ask the work to stop and keep what it has; end it where it does not within a second."""
        process, task = self._processes.get((key, what)), self.tasks.get((key, what))
        if process is None or task is None or task.done:
            return
        task.stopping = True
        with contextlib.suppress(BrokenPipeError, ConnectionError):
            assert process.stdin is not None
            process.stdin.write(b"stop\n")
            await process.stdin.drain()
        try:
            await asyncio.wait_for(process.wait(), SECONDS_TO_STOP)
        except TimeoutError:
            with contextlib.suppress(ProcessLookupError):
                process.kill()

    async def close(self) -> None:
        """End everything."""
        for process in self._processes.values():
            with contextlib.suppress(ProcessLookupError):
                process.kill()

    async def _run(
        self, place: tuple[str, str], task: Task, words: list[str], told: Callable[[], None]
    ) -> None:
        environment = {**os.environ, "PYTHONIOENCODING": "utf-8"}
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "evenwall.web.work", *words,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            env=environment,
        )  # fmt: skip
        self._processes[place] = process
        told()
        limit = SECONDS_TO_READ if task.what != "forecast" else None
        try:
            await asyncio.wait_for(_listen(process, task, told), limit)
        except TimeoutError:
            process.kill()
            limit_said = f"{task.what} took over {SECONDS_TO_READ:.0f} s"
            task.error = f"{limit_said}: thin the mesh out to under a million triangles"
        await process.wait()
        if not task.error and not task.result:
            task.error = "stopped before anything was worth keeping" if task.stopping else BEST_EFFORT
        task.done = True
        self._processes.pop(place, None)


async def _listen(process: asyncio.subprocess.Process, task: Task, told: Callable[[], None]) -> None:
    assert process.stdout is not None
    async for raw in process.stdout:
        try:
            line = json.loads(raw)
        except ValueError:
            continue
        task.share = float(line.get("share", task.share))
        task.doing = str(line.get("doing", task.doing))
        task.error = str(line.get("error", ""))
        task.result = str(line.get("done", ""))
        told()
