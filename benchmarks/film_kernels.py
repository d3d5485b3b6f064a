"""Time of each of the film's kernels on a wall of so many nodes: python benchmarks/film_kernels.py [nodes].

Shares are of one step while a pool sweeps the wall; bytes are what a kernel has to read and write.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable

import numpy as np
from film_cases import TURNING, egg, setting
from numba import njit

from evenwall.film.coat import level_pool, new_film, run_coat, saturation_thickness
from evenwall.film.fluid import ALL_TERMS
from evenwall.film.flux import add_capillary, body_at, fluxes, new_work, pressures, sum_up
from evenwall.film.implicit import (
    System,
    assemble,
    assemble_patches,
    choose_active,
    new_system,
)
from evenwall.film.moving import add_change, limit, move, new_trial
from evenwall.film.operators import build_wall
from evenwall.film.pouring import outside_of
from evenwall.film.rubber import new_column
from evenwall.film.solver import bicgstab
from evenwall.film.state import Rubber
from evenwall.film.team import Team, alone
from evenwall.film.warming import cure_and_warm, new_record
from evenwall.geometry.remesh import evened, in_order

STEP = 0.02  # [s]
THICK = 3e-3


def timed(call: Callable[[], object], nodes: int) -> float:
    """Least CPU time of a call per node [ns]."""
    call()
    best = np.inf
    for _ in range(9):
        began = time.process_time()
        for _ in range(20):
            call()
        best = min(best, (time.process_time() - began) / 20)
    return float(best / nodes * 1e9)


def main(nodes: int) -> None:
    surface = in_order(evened(egg(), nodes=nodes))
    wall, case, one = build_wall(surface), setting(surface), alone()
    n, k = len(wall.area), len(wall.tail)
    fluid = case.fluid
    run = run_coat(
        wall, fluid, TURNING, volume=level_pool(wall, 57e-6, (0.0, 0.0, -1.0)), until=6.0, threads=1
    )
    film = new_film(wall, fluid, run.film.volume, temperature=296.15, conversion=0.05)
    work, system, trial = new_work(n, k), new_system(wall), new_trial(n, k)
    body = body_at(TURNING, 6.0, (0.0, 0.0, 0.0), 1.0)
    sigma, knee = fluid.surface_tension, saturation_thickness(fluid)
    column, record = new_column(Rubber(), n, temperature=296.15), new_record(n, temperature=296.15)
    edges = (work.flux, work.coupling, work.drag)

    def press() -> None:
        pressures(one, wall, film.volume, film, work, fluid, ALL_TERMS, body, knee)

    def flow() -> None:
        fluxes(one, wall, film.volume, film, work, fluid, ALL_TERMS, body, THICK, *edges)

    press()
    flow()
    sum_up(one, wall, work)
    active = choose_active(one, wall, work, system, sigma, STEP)
    assemble(one, wall, work, system, active, sigma, STEP)
    system.right[:active] = -STEP * work.net[system.node[:active]]
    plain, _ = bicgstab(one, system, active, 1e-3, False, 0.0)
    assemble_patches(one, system)
    iterations, _ = bicgstab(one, system, active, 1e-3, True, 0.0)
    still = np.zeros(k)
    apart = work._replace(pressure=work.pressure.copy())  # the capillary part adds up in it
    step = {
        "pressures": press,
        "of these the capillary part": lambda: add_capillary(one, wall, apart, sigma),
        "fluxes": flow,
        "sums at the nodes": lambda: sum_up(one, wall, work),
        "choice of stiff nodes": lambda: choose_active(one, wall, work, system, sigma, STEP),
        "assembling": lambda: assemble(one, wall, work, system, active, sigma, STEP),
        "assembling and factors of the patches": lambda: assemble_patches(one, system),
        "solver": lambda: _solve(one, system, active),
        "change of flux": lambda: add_change(one, wall, system, work.coupling, work.drag, 0.0, trial.flux),
        "limiter": lambda: limit(one, wall, film.volume, still, trial, STEP),
        "move": lambda: move(one, wall, film, still, trial, STEP, False, fluid.viscosity),
    }
    said: dict[str, object] = {
        "implicit share": round(active / n, 2),
        "solved with their patches": round(float(system.patches.rows.sum() / n), 2),
        "iterations": iterations,
        "without patches": plain,
    }
    took = {name: timed(call, n) for name, call in step.items()}
    whole = sum(value for name, value in took.items() if not name.startswith("of these"))
    for name, value in took.items():
        said[name] = f"{value:.1f} ({value / whole:.0%})"
    said["a step"] = f"{whole:.0f}"
    warmth = timed(
        lambda: cure_and_warm(
            one, wall, film, work.thickness, fluid, column, outside_of(case), record, 6.0, 1e-9
        ),
        n,
    )
    said["cure and rubber, every few steps"] = f"{warmth:.0f}"
    flux_bytes = 8.0 * (k / n) * (5 * 3 + 4 + 8) + 8.0 * 5  # what fluxes reads and writes for a node, about
    said["fluxes' share of the triad in cache"] = f"{flux_bytes / took['fluxes'] / triad():.0%}"
    print(json.dumps(said))


@njit(cache=True)
def _solve(one: Team, system: System, active: int) -> int:
    return bicgstab(one, system, active, 1e-3, True, 0.0)[0]


@njit(cache=True)
def _triad(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> None:
    for i in range(a.size):
        a[i] = b[i] + 0.5 * c[i]


def triad() -> float:
    """The triad a = b + s c in cache [GB/s]."""
    a, b, c = (np.ones(20_000) for _ in range(3))
    return 24.0 / timed(lambda: _triad(a, b, c), 20_000)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
