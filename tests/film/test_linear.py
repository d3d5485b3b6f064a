"""The linear system of an implicit stage and its solution, and the order of the steps while a pool sweeps the wall."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import spsolve

from evenwall.film.coat import CoatRun, level_pool, new_film, run_coat, saturation_thickness
from evenwall.film.fluid import ALL_TERMS, constant_fluid
from evenwall.film.flux import Body, Work, fluxes, new_work, pressures, sum_up
from evenwall.film.implicit import System, assemble, choose_active, new_system
from evenwall.film.linear import bicgstab
from evenwall.film.operators import build_wall
from evenwall.film.state import Floats
from evenwall.film.steps import USUAL, shorter
from evenwall.film.team import alone
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

BALL = ball(0.04, rounds=4)
WALL = build_wall(BALL)
FLUID = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)
RANDOM = np.random.default_rng(5)


def turned(share: float, *, until: float = 0.5) -> CoatRun:
    """A pool that rolls over an even film, in steps of `share` of their usual length."""
    volume = np.full(len(WALL.area), 5e-4) + level_pool(WALL, 20e-6, (0.0, 0.0, -1.0))
    return run_coat(
        WALL, FLUID, constant(frame_rate=1.0, cradle_rate=0.6), volume=volume, until=until, threads=1,
        control=shorter(USUAL, share),
    )  # fmt: skip


def stage(step: float) -> tuple[Work, System, int]:
    """The system of an implicit stage of `step` [s]: a pool on an uneven film, and half the wall next to bare."""
    n, k, one = len(WALL.area), len(WALL.tail), alone()
    volume = RANDOM.uniform(4e-4, 6e-4, n) + level_pool(WALL, 20e-6, (0.6, 0.0, -0.8))
    volume[WALL.x[:, 1] > 0.01] = 1e-6
    film = new_film(WALL, FLUID, volume, temperature=296.0, conversion=0.0)
    work, system = new_work(n, k), new_system(WALL)
    body = Body((5.9, 0.0, -7.8), (1.0, 0.5, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    pressures(one, WALL, volume, film, work, FLUID, ALL_TERMS, body, saturation_thickness(FLUID))
    edges = (work.flux, work.coupling, work.drag)
    fluxes(one, WALL, volume, film, work, FLUID, ALL_TERMS, body, 3e-3, *edges)
    sum_up(one, WALL, work)
    active = choose_active(one, WALL, work, system, FLUID.surface_tension, step)
    assemble(one, WALL, work, system, active, FLUID.surface_tension, step)
    return work, system, active


def directly(work: Work, system: System, active: int, step: float) -> tuple[Floats, Floats]:
    """y and p of the same equations, put together edge by edge and solved by elimination."""
    n, sigma = len(WALL.area), FLUID.surface_tension
    i, j, w = WALL.tail.astype(int), WALL.head.astype(int), WALL.weight

    def summed(rows: Floats, columns: Floats, values: Floats) -> sparse.csr_array:
        return sparse.csr_array(sparse.coo_array((values, (rows, columns)), shape=(n, n)))

    spread = summed(np.r_[i, j, i, j], np.r_[i, j, j, i], np.r_[w, w, -w, -w])
    lift = sparse.diags_array(work.lift)
    psi = sparse.diags_array(np.maximum(work.stiffness, 0.0)) + (
        sigma * sparse.diags_array(1.0 / WALL.area) @ lift @ spread @ lift
    )
    c = step * work.coupling
    leak = summed(np.r_[i, j, i, j], np.r_[i, j, j, i], np.r_[c, c, -c, -c])
    donor = np.where(work.drag >= 0.0, i, j)
    d = step * work.drag
    carry = summed(np.r_[i, j], np.r_[donor, donor], np.r_[d, -d])
    nodes = system.node[:active].astype(int)
    psi, leak, carry = (sparse.csr_array(m)[nodes][:, nodes] for m in (psi, leak, carry))
    whole = sparse.diags_array(WALL.area[nodes]) + carry + leak @ psi
    y = spsolve(sparse.csc_array(whole), system.right[:active])
    return y, psi @ y


def test_rows_take_every_node_once_and_neighbours_are_near_each_other() -> None:
    system = new_system(WALL)
    assert np.array_equal(np.sort(system.order), np.arange(len(WALL.area)))
    rank = np.argsort(system.order)
    assert np.abs(rank[WALL.tail] - rank[WALL.head]).max() < 4.0 * np.sqrt(len(WALL.area))


@pytest.mark.parametrize("step", [1e-3, 0.03, 1.0])
def test_solution_is_that_of_elimination(step: float) -> None:
    work, system, active = stage(step)
    system.right[:active] = RANDOM.normal(size=active) * 1e-5 * WALL.area[system.node[:active]]
    assert 0 < bicgstab(alone(), system, active, 1e-5) < 60
    y, p = directly(work, system, active, step)
    assert np.abs(system.solution[:active] - y).max() < 2e-4 * np.abs(y).max()
    told = system.weight[:active] * (system.pressure[:active] - p)  # where little flows p hardly counts
    assert np.abs(told).max() < 2e-4 * np.abs(y).max()


def test_what_is_solved_for_leaves_the_balance_of_every_node() -> None:
    """The liquid that the changed fluxes bring is what the right side asks for, without the system's own arrays."""
    step = 0.03
    work, system, active = stage(step)
    asked = RANDOM.normal(size=active) * 1e-5 * WALL.area[system.node[:active]]
    system.right[:active] = asked
    bicgstab(alone(), system, active, 1e-3)
    n = len(WALL.area)
    y, p = np.zeros(n), np.zeros(n)
    y[system.node[:active]], p[system.node[:active]] = system.solution[:active], system.pressure[:active]
    i, j = WALL.tail, WALL.head
    flux = step * (work.coupling * (p[i] - p[j]) + work.drag * y[np.where(work.drag >= 0.0, i, j)])
    left = WALL.area * y + np.bincount(i, flux, n) - np.bincount(j, flux, n)
    left = left[system.node[:active]] - asked
    stiffly = np.sqrt(system.size[:active])
    assert np.linalg.norm(left / stiffly) < 5e-3 * np.linalg.norm(asked / stiffly)
    assert np.linalg.norm(left) < 0.03 * np.linalg.norm(asked)


def test_next_to_nothing_on_the_right_is_solved_too() -> None:
    _, system, active = stage(0.03)
    system.right[:active] = 0.0
    assert bicgstab(alone(), system, active, 1e-3) == 0
    assert not system.solution[:active].any()
    system.right[0] = 1e-40
    assert bicgstab(alone(), system, active, 1e-3) >= 0
    assert np.isfinite(system.pressure[:active]).all()


def test_steps_while_a_pool_sweeps_the_wall_are_second_order() -> None:
    finest = turned(1 / 32).film.volume  # in long steps the bound on the prediction counts at fronts
    long, short = (float(WALL.area @ np.abs(turned(s).film.volume - finest)) for s in (1 / 4, 1 / 16))
    assert long / short > 14.0  # 7 in first order, 21 in second: (s - 1/32) and (s^2 - 1/32^2)
