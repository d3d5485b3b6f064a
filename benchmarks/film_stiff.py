"""The film's own steps against general stiff integrators, on the same semi-discrete equations, at equal error.

python benchmarks/film_stiff.py [NODES] [SECONDS]   needs the extra `bench` (scikit-sundae)

A shot of constant viscosity is turned from its level pool; the unknowns are the volumes per area at the nodes.
All get the same compiled right side and the exact pattern of its Jacobian. Errors are against CVODE with a
tolerance a hundred times tighter: sum of A |v - v_ref| over the shot. Beside each stands by how much the own steps
are faster at its error, read off between the own runs.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable

import film_cases as cases
import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import csr_array

from evenwall.film.coat import level_pool, new_film, run_coat, saturation_thickness
from evenwall.film.fluid import ALL_TERMS, constant_fluid
from evenwall.film.flux import body_at, fluxes, new_work, pressures, sum_up
from evenwall.film.operators import Wall, build_wall
from evenwall.film.steps import USUAL, shorter
from evenwall.film.team import alone
from evenwall.geometry.remesh import evened
from evenwall.turning.kinematics import gravity

FLUID = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)
THICK = 3e-3
SHARES = (1.0, 0.5, 0.25, 0.125, 0.0625)  # of the usual steps

Flow = Callable[[float, np.ndarray], np.ndarray]


def flow_on(wall: Wall) -> Flow:
    """dv/dt of the volumes per area, by the kernels of the forecast."""
    n, k = len(wall.area), len(wall.tail)
    work, one, knee = new_work(n, k), alone(), saturation_thickness(FLUID)
    film = new_film(wall, FLUID, np.zeros(n), temperature=296.15, conversion=0.0)

    def flow(t: float, volume: np.ndarray) -> np.ndarray:
        v = np.maximum(volume, 0.0)
        body = body_at(cases.TURNING, t, (0.0, 0.0, 0.0), 1.0)
        pressures(one, wall, v, film, work, FLUID, ALL_TERMS, body, knee)
        fluxes(one, wall, v, film, work, FLUID, ALL_TERMS, body, THICK, work.flux, work.coupling, work.drag)
        sum_up(one, wall, work)
        return np.asarray(-work.net / wall.area)

    return flow


def pattern_of(wall: Wall) -> csr_array:
    """Which nodes a node's rate depends on: neighbours, theirs for the capillary pressure, upwind points."""
    n = len(wall.area)
    tail, head = wall.tail.astype(np.int64), wall.head.astype(np.int64)
    near = csr_array((np.ones(2 * len(tail)), (np.r_[tail, head], np.r_[head, tail])), shape=(n, n))
    near = near + csr_array((np.ones(n), (np.arange(n), np.arange(n))), shape=(n, n))
    upwind = wall.upwind.astype(np.int64)
    ends = np.repeat(np.stack([tail, head], axis=1).ravel(), 4)
    points = np.repeat(upwind, 2, axis=0).ravel()
    far = csr_array((np.ones(len(ends)), (ends, points)), shape=(n, n))
    whole = csr_array(near @ near + far)
    return csr_array(
        (np.ones(whole.nnz), whole.indices.astype(np.int32), whole.indptr.astype(np.int32)), shape=(n, n)
    )


def timed(solve: Callable[[], np.ndarray]) -> tuple[float, np.ndarray]:
    began = time.process_time()
    found = solve()
    return time.process_time() - began, found


def by_cvode(flow: Flow, start: np.ndarray, until: float, rtol: float, **options: object) -> np.ndarray:
    from sksundae.cvode import CVODE

    def rate(t: float, y: np.ndarray, out: np.ndarray) -> None:
        out[:] = flow(t, y)

    solver = CVODE(rate, rtol=rtol, atol=1e-3 * rtol, max_num_steps=1_000_000, **options)
    return np.asarray(solver.solve(np.array([0.0, until]), start).y[-1])


def by_bdf(flow: Flow, start: np.ndarray, until: float, rtol: float, pattern: csr_array) -> np.ndarray:
    made = solve_ivp(
        flow, (0.0, until), start, method="BDF", rtol=rtol, atol=1e-3 * rtol, jac_sparsity=pattern
    )
    return np.asarray(made.y[:, -1])


def main(nodes: int, until: float) -> None:
    wall = build_wall(evened(cases.egg(), nodes=nodes))
    start = level_pool(wall, 57e-6, gravity(cases.TURNING, 0.0))
    shot, flow, pattern = float(wall.area @ start), flow_on(wall), pattern_of(wall)

    def own(share: float) -> np.ndarray:
        control = shorter(USUAL, share)
        run = run_coat(wall, FLUID, cases.TURNING, volume=start, until=until, control=control, threads=1)
        return np.asarray(run.film.volume)

    flow(0.0, start)
    own(1.0)
    ways: dict[str, Callable[[], np.ndarray]] = {
        **{f"own steps, times {share:g}": (lambda share=share: own(share)) for share in SHARES},
        **{
            f"CVODE, sparse Jacobian, {rtol:g}": (
                lambda rtol=rtol: by_cvode(flow, start, until, rtol, linsolver="sparse", sparsity=pattern)
            )
            for rtol in (1e-2, 1e-3)
        },
        **{
            f"CVODE, GMRES, {rtol:g}": (
                lambda rtol=rtol: by_cvode(flow, start, until, rtol, linsolver="gmres", krylov_dim=20)
            )
            for rtol in (1e-2, 1e-3)
        },
        "scipy BDF, 0.01": lambda: by_bdf(flow, start, until, 1e-2, pattern),
    }
    reference = by_cvode(flow, start, until, 1e-5, linsolver="gmres", krylov_dim=30)
    said: dict[str, object] = {"nodes": len(start), "seconds": until}
    found: dict[str, tuple[float, float]] = {}
    for name, way in ways.items():
        cpu, end = timed(way)
        error = float(wall.area @ np.abs(end - reference)) / shot
        found[name] = cpu, error
        print(f"{name:34s} {cpu:8.2f} s   error {error:.5f}", file=sys.stderr, flush=True)
    ours = [one for name, one in found.items() if name.startswith("own")]
    for name, (cpu, error) in found.items():
        said[name] = {"cpu": cpu, "error": error, "ours faster by": cpu / own_time(ours, error)}
    print(json.dumps(said))


def own_time(ours: list[tuple[float, float]], error: float) -> float:
    """CPU time [s] in which the own steps come to an error: by a straight line in logarithms between two runs.

    Beyond the most exact run the steps are counted as first order, which flatters the others.
    """
    cpu, found = (np.array(values) for values in zip(*sorted(ours, key=lambda one: one[1]), strict=True))
    if error < found[0]:
        return float(cpu[0] * found[0] / error)
    return float(np.exp(np.interp(np.log(error), np.log(found), np.log(cpu))))


if __name__ == "__main__":
    main(
        *(
            kind(word)
            for kind, word in zip(
                (int, float), [*sys.argv[1:], *(2500, 2.0)[len(sys.argv) - 1 :]], strict=False
            )
        )
    )
