"""What runs in a process of its own: reading a mesh, forecasting the wall, typesetting paper. Talks in lines of JSON.

`python -m evenwall.web.work read FOLDER`, `... forecast FOLDER RUN FINENESS` or `... worksheet FOLDER`. It prints
{"share", "doing"} about once a second and ends with {"done": ...} or {"error": sentence}; a line on its standard input
asks it to stop.
"""

from __future__ import annotations

import contextlib
import json
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from evenwall.errors import EvenwallError, MeshError, PlanError

MOST_MEMORY: Final = 6_000_000_000  # bytes that reading a mesh may take
MOST_FACES: Final = 2_000_000


def main(words: list[str]) -> int:
    """Do the piece of work that the words name."""
    try:
        match words:
            case ["read", folder]:
                _bounded()
                done: Any = read(Path(folder))
            case ["forecast", folder, run, fineness]:
                done = forecast(Path(folder), run, fineness, stop=_asked_to_stop())
            case ["worksheet", folder]:
                done = worksheet(Path(folder))
            case _:
                say(error=f"no such work: {' '.join(words)}")
                return 2
    except EvenwallError as error:
        say(error=str(error))
        return 1
    except MemoryError:
        say(
            error="this mesh takes more memory than evenwall allows: thin it out to under a million triangles"
        )
        return 1
    say(done=done)
    return 0


def say(**line: Any) -> None:
    """One line for the app."""
    print(json.dumps(line), flush=True)


def read(folder: Path) -> str:
    """Read or estimate the job's piece and keep its account; the fingerprint of what it follows from."""
    from evenwall.files.job_file import read_job_file
    from evenwall.files.results import save_result
    from evenwall.web.piece_account import account_of
    from evenwall.web.rooms import PIECE, piece_key

    file = read_job_file(folder)
    key = piece_key(folder, file)
    account = account_of(folder, file)
    if len(account.faces) > MOST_FACES:
        raise MeshError(
            f"the mesh has {len(account.faces)} triangles and the app shows up to {MOST_FACES}: thin it out"
        )
    save_result(folder, PIECE, key, account)
    return key


def forecast(folder: Path, run: str, fineness: str, *, stop: Callable[[], bool]) -> str:
    """Plan the job, forecast its shots and keep the result under the name `run`."""
    from evenwall import job as pipeline
    from evenwall.files.kept import kept_plan
    from evenwall.files.open_job import open_job
    from evenwall.web import kept_runs

    began = time.time()
    last = 0.0
    whole = (0.0, 1.0) if fineness == "quick" else (0.0, 0.3)

    def progress(share: float, doing: str) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last > 0.5:
            last = now
            say(share=round(whole[0] + share * (whole[1] - whole[0]), 4), doing=doing)

    say(share=0.0, doing="reading the piece")
    opened = open_job(folder)
    planned = kept_plan(opened, progress=progress, stop=stop)
    result = planned.forecast
    if fineness != "quick" and not stop():
        whole = (0.3, 1.0)
        result = pipeline.forecast(
            opened.job, planned, nodes=pipeline.FINENESS[fineness], progress=progress, stop=stop
        )
    kept_runs.keep(folder, run, opened.file, result, fineness=fineness, made=began)
    return run


def worksheet(folder: Path) -> str:
    """Typeset the worksheet of the job's plan; the name of its file in the folder."""
    from evenwall.files.kept import plan_at_hand
    from evenwall.files.machine_file import balance_of
    from evenwall.files.open_job import open_job
    from evenwall.reports.worksheet import write_worksheet

    opened = open_job(folder)
    planned = plan_at_hand(opened)
    if planned is None:
        raise PlanError("no plan holds for the job as it is now: run Forecast, then print the worksheet")
    machine = balance_of(opened, planned)
    return write_worksheet(folder, opened.file.units, opened.job, planned, machine).name


def _asked_to_stop() -> Callable[[], bool]:
    """True from the moment that a line came in, or the app is gone."""
    asked = threading.Event()

    def listen() -> None:
        sys.stdin.read(1)
        asked.set()

    threading.Thread(target=listen, daemon=True).start()
    return asked.is_set


def _bounded() -> None:
    """Bound the memory of this process where the system can (not on Windows)."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
