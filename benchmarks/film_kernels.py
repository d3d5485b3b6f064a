"""Time of each of the film's kernels on a wall of so many nodes: python benchmarks/film_kernels.py [nodes]."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np

sys.path.insert(0, __file__.rsplit("/", 1)[0] or ".")
from evenwall.film import stepping
from evenwall.film.coat import level_pool, new_film, run_coat
from evenwall.film.fluid import ALL_TERMS, constant_fluid
from evenwall.film.flux import add_capillary, body_at, fluxes, new_work, pressures
from evenwall.film.implicit import apply, assemble, choose_active, new_system
from evenwall.film.operators import build_wall
from evenwall.geometry.remesh import remesh
from evenwall.turning.patterns import constant
from film import egg


def timed(call: Callable[[], object], nodes: int) -> float:
    """Least CPU time of a call per node [ns]."""
    call()
    best = np.inf
    for _ in range(7):
        began = time.process_time()
        for _ in range(20):
            call()
        best = min(best, (time.process_time() - began) / 20)
    return float(best / nodes * 1e9)


def main(nodes: int) -> None:
    wall = build_wall(remesh(egg(), nodes=nodes).surface)
    n, k = len(wall.area), len(wall.tail)
    fluid = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)
    motion = constant(frame_rate=1.05, cradle_rate=0.65)
    run = run_coat(wall, fluid, motion, volume=level_pool(wall, 57e-6, (0.0, 0.0, -1.0)), until=6.0)
    film = new_film(wall, fluid, run.film.volume, temperature=296.15, conversion=0.0)
    work, system, trial = new_work(n, k), new_system(n, k), stepping.new_trial(n, k)
    body = body_at(motion, 6.0, (0.0, 0.0, 0.0), 1.0)
    faces = (work.flux, work.coupling, work.drag)
    dt, sigma, knee = 0.02, fluid.surface_tension, 3.7e-3

    def press() -> None:
        pressures(wall, film.volume, film, work, fluid, ALL_TERMS, body, knee)

    def flow() -> None:
        fluxes(wall, film.volume, film, work, fluid, ALL_TERMS, body, 3e-3, *faces)

    press()
    flow()
    active = choose_active(wall, work, system, sigma, dt)
    assemble(wall, work, work.coupling, work.drag, system, active, sigma, dt)
    y, p, out = (np.zeros(n + 1) for _ in range(3))
    print(f"{n} nodes, {active / n:.2f} of them implicit at {dt} s")
    for name, call in {
        "pressures, capillary part": lambda: add_capillary(wall, work, sigma),
        "pressures in all": press,
        "fluxes": flow,
        "choose_active": lambda: choose_active(wall, work, system, sigma, dt),
        "assemble (active share)": lambda: assemble(
            wall, work, work.coupling, work.drag, system, active, sigma, dt
        ),
        "one apply (active share)": lambda: apply(system, active, y, p, out),
        "limit": lambda: stepping.limit(wall, film.volume, trial.flux, trial.given, dt),
        "move": lambda: stepping.move(wall, film, trial.flux, trial, dt),
        "net_outflow": lambda: stepping.net_outflow(wall, work.flux, work.net),
    }.items():
        print(f"{name:28s} {timed(call, n):7.1f} ns/node", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
