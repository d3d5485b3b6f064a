"""One measurement of the film's speed, as one line of JSON; `all.py` makes them all.

python benchmarks/film.py full SHAPE NODES [THREADS] [MM] [RESIN]   one coat on one mesh, in full
python benchmarks/film.py forecast SHAPE NODES [COATS]              a forecast with its second mesh, as the app makes it
python benchmarks/film.py coarse SHAPE NODES                        a coat whose pool lives long, with a coarse start
python benchmarks/film.py bandwidth                                 a triad of this machine, one thread
python benchmarks/film.py many                                      100 forecasts in one process: its memory
python benchmarks/film.py stop NODES                                how soon progress comes and a stop ends
python benchmarks/film.py plan                                      the whole plan of the demo's piece
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import film_cases as cases
import numpy as np
from numba import njit

from evenwall.errors import StoppedError
from evenwall.files.demo import make_demo
from evenwall.files.open_job import open_job
from evenwall.files.resin_file import load_resin
from evenwall.film.chain import run_chain
from evenwall.film.coat import CoatRun, Progress, Stop
from evenwall.film.pouring import Pour, Setting, run_pour
from evenwall.film.run import forecast
from evenwall.geometry.remesh import evened, in_order
from evenwall.geometry.surface import Surface
from evenwall.job import plan


def mesh(shape: str, nodes: int) -> Surface:
    return in_order(evened(cases.SHAPES[shape](), nodes=nodes))


def warm() -> None:
    """Compile, or load what was compiled."""
    small = mesh("egg", 400)
    forecast(small, load_resin("museum-sudden"), cases.TURNING, (cases.shot_of(small),), second_mesh=False)


def full(
    shape: str, nodes: int, threads: int = 0, millimetres: float = 1.0, resin: str = "museum-gradual"
) -> dict[str, object]:
    surface = mesh(shape, nodes)
    spent: dict[str, float] = {}

    def runner(
        index: int, pour: Pour, setting: Setting, progress: Progress, stop: Stop
    ) -> tuple[CoatRun, float]:
        watch = cases.Watch()
        run = run_pour(pour, setting, threads=threads or None)
        spent.update(watch.read())
        return run, 0.0

    setting = cases.setting(surface, 1e-3 * millimetres, resin)
    coat = run_chain(surface, setting, runner=runner).coats[0]
    count = len(surface.vertices)
    return {
        "nodes": count, "steps": coat.steps, **spent, "ns": 1e9 * spent["wall"] / coat.steps / count,
        **cases.figures_of(coat.figures), "pool": coat.pool_fraction, "volume_error": coat.volume_error,
        "MB": cases.memory(),
    }  # fmt: skip


def forecasted(shape: str, nodes: int, coats: int = 1, resin: str = "museum-gradual") -> dict[str, object]:
    piece = cases.SHAPES[shape]()
    shots = tuple(cases.shot_of(piece, mixed_at=1500.0 * k) for k in range(coats))
    watch = cases.Watch()
    done = forecast(piece, load_resin(resin), cases.TURNING, shots, nodes=nodes)
    return {
        "nodes": done.nodes, "steps": done.steps, **watch.read(), "history": done.history,
        "reason": done.history_reason, **cases.figures_of(done.figures), "MB": cases.memory(),
    }  # fmt: skip


@njit(cache=True)
def triad(a: np.ndarray, b: np.ndarray, c: np.ndarray, rounds: int) -> None:
    for _ in range(rounds):
        for i in range(a.size):
            a[i] = b[i] + 0.5 * c[i]


def bandwidth() -> dict[str, object]:
    """Bytes a second of a = b + s c (McCalpin's STREAM triad), best of several [GB/s]."""
    found: dict[str, object] = {}
    for name, size in (("in cache", 20_000), ("in memory", 4_000_000)):
        a, b, c = (np.ones(size) for _ in range(3))
        rounds = max(1, 20_000_000 // size)
        triad(a, b, c, 1)
        best = 1e9
        for _ in range(7):
            began = time.process_time()
            triad(a, b, c, rounds)
            best = min(best, time.process_time() - began)
        found[name] = 24e-9 * size * rounds / best
    return found


def many() -> dict[str, object]:
    small = mesh("egg", 400)
    held = []
    for _ in range(100):
        shots = (cases.shot_of(small),)
        forecast(small, load_resin("museum-sudden"), cases.TURNING, shots, second_mesh=False)
        held.append(_resident())
    return {"MB after 10": held[9], "after 50": held[49], "after 100": held[99]}


def _resident() -> float:
    """Memory that this process holds now [MB]."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


def stopped(nodes: int) -> dict[str, object]:
    """Longest silence of the progress of a whole forecast, and how long a stop took, asked for at any tenth."""
    piece, resin = cases.figurine(), load_resin("museum-sudden")
    silence, last = 0.0, time.perf_counter()

    def tell(share: float, text: str) -> None:
        nonlocal silence, last
        now = time.perf_counter()
        silence, last = max(silence, now - last), now

    began = last
    shots = (cases.shot_of(piece),)
    forecast(piece, resin, cases.TURNING, shots, nodes=nodes, progress=tell)
    whole = time.perf_counter() - began
    waits = []
    for tenth in range(10):
        due = time.perf_counter() + whole * (tenth + 0.5) / 10.0
        with suppress(StoppedError):  # a stop before the first coat is done keeps nothing, and is an answer
            forecast(
                piece, resin, cases.TURNING, shots, nodes=nodes,
                stop=lambda due=due: time.perf_counter() > due,
            )  # fmt: skip
        waits.append(max(0.0, time.perf_counter() - due))
    return {"whole": whole, "silence": silence, "stop": max(waits)}


def planned() -> dict[str, object]:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "job"
        make_demo(place)
        opened = open_job(place)
        watch = cases.Watch()
        made = plan(replace(opened.job))
        return {**watch.read(), "coats": len(made.shots), "MB": cases.memory()}


def main(words: list[str]) -> None:
    warm()
    match words:
        case ["full", shape, nodes, *rest]:
            kinds = (int, float, str)
            said = full(shape, int(nodes), *(kind(word) for kind, word in zip(kinds, rest, strict=False)))
        case ["forecast", shape, nodes, *rest]:
            said = forecasted(shape, int(nodes), *(int(word) for word in rest))
        case ["coarse", shape, nodes]:
            said = forecasted(shape, int(nodes), 1, "museum-sudden")
        case ["bandwidth"]:
            said = bandwidth()
        case ["many"]:
            said = many()
        case ["stop", nodes]:
            said = stopped(int(nodes))
        case ["plan"]:
            said = planned()
        case _:
            raise SystemExit(__doc__)
    print(json.dumps(said))


if __name__ == "__main__":
    main(sys.argv[1:])
