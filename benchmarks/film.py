"""Speed of the film: python benchmarks/film.py [nodes ...]  (figures and machine: docs/performance.md).

One 1 mm coat on a smooth egg of 600 cm2, ten turns a minute, to gel; CPU time of this process, kernels compiled before.
"""

from __future__ import annotations

import resource
import sys
import time

import numpy as np
from numba import njit

from evenwall.files.resin_file import load_resin
from evenwall.film.chain import run_chain
from evenwall.film.fluid import fluid_of
from evenwall.film.pouring import Setting
from evenwall.film.run import forecast
from evenwall.film.state import CoatResult, Rubber, Shot
from evenwall.geometry.remesh import remesh
from evenwall.geometry.surface import Surface, face_areas
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

TURNING = constant(frame_rate=10 * 2 * np.pi / 60, cradle_rate=6.18 * 2 * np.pi / 60)


def egg() -> Surface:
    sphere = ball(1.0, rounds=6)
    shape = Surface(sphere.vertices * [0.8, 1.0, 1.4], sphere.faces)
    return Surface(shape.vertices * np.sqrt(0.06 / face_areas(shape).sum()), shape.faces)


def shot_of(surface: Surface, thickness: float) -> Shot:
    return Shot(volume=float(face_areas(surface).sum()) * thickness, temperature=296.15, pour_after=90.0)


def in_full(surface: Surface, thickness: float = 1e-3, resin_name: str = "museum-gradual") -> CoatResult:
    resin = load_resin(resin_name)
    setting = Setting(
        fluid=fluid_of(resin), heat_limit=resin.heat_limit, motion=TURNING, shots=(shot_of(surface, thickness),),
        rubber=Rubber(), mold_temperature=296.15, air_temperature=296.15, crossing=(0.0, 0.0, 0.0),
    )  # fmt: skip
    return run_chain(surface, setting).coats[0]


@njit(cache=True)
def triad(a: np.ndarray, b: np.ndarray, c: np.ndarray, rounds: int) -> None:
    for _ in range(rounds):
        for i in range(a.size):
            a[i] = b[i] + 0.5 * c[i]


def bandwidth(size: int) -> float:
    a, b, c = (np.ones(size) for _ in range(3))
    triad(a, b, c, 1)
    began = time.process_time()
    rounds = max(1, 20_000_000 // size)
    triad(a, b, c, rounds)
    return 24.0 * size * rounds / (time.process_time() - began) / 1e9


def line(what: str, nodes: int, steps: int, cpu: float, coat: CoatResult) -> None:
    f = coat.figures
    print(
        f"{what:28s} {nodes:6d} nodes {steps:6d} steps {cpu:7.2f} s {1e9 * cpu / steps / nodes:6.0f} ns/node/step"
        f"  p05 {f.p05 * 1e3:.3f} p50 {f.median * 1e3:.3f} p95 {f.p95 * 1e3:.3f}"
        f" cv {f.cv:.3f} pool {coat.pool_fraction:.2f}",
        flush=True,
    )


def main(counts: list[int]) -> None:
    whole = egg()
    in_full(remesh(whole, nodes=600).surface)
    print(
        f"triad {bandwidth(20_000):.0f} GB/s in cache, {bandwidth(4_000_000):.0f} GB/s in memory, one thread"
    )
    for count in counts:
        surface = remesh(whole, nodes=count).surface
        began = time.process_time()
        coat = in_full(surface)
        line("1 mm in full", len(surface.vertices), coat.steps, time.process_time() - began, coat)
        began = time.process_time()
        done = forecast(surface, load_resin("museum-gradual"), TURNING, (shot_of(surface, 1e-3),))
        cpu = time.process_time() - began
        line(f"1 mm, {done.history}, two meshes", done.nodes, done.steps, cpu, done.coats[0])
    surface = remesh(whole, nodes=5000).surface
    began = time.process_time()
    coat = in_full(surface, 5e-3, "museum-sudden")
    line("5 mm that gels with its pool", len(surface.vertices), coat.steps, time.process_time() - began, coat)
    print(f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most")


if __name__ == "__main__":
    main([int(one) for one in sys.argv[1:]] or [1250, 2500, 5000, 10000])
