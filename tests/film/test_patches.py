"""Patches of the wall that speed the linear solver up, and the order of the steps while a pool sweeps the wall."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse import csgraph

from evenwall.film.coat import CoatRun, level_pool, run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.implicit import System, assemble_patches, new_system
from evenwall.film.operators import build_wall
from evenwall.film.patches import (
    LEAST_NODES,
    RINGS,
    STIFFER,
    Indices,
    Patches,
    factorize,
    new_patches,
    solve_patches,
    unfold,
)
from evenwall.film.solver import bicgstab
from evenwall.film.state import Floats
from evenwall.film.steps import USUAL, shorter
from evenwall.film.team import alone
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

WALL = build_wall(ball(0.04, rounds=4))
FLUID = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)


def turned(share: float, *, until: float = 0.5) -> CoatRun:
    """A pool that rolls over an even film, in steps of `share` of their usual length."""
    volume = np.full(len(WALL.area), 5e-4) + level_pool(WALL, 20e-6, (0.0, 0.0, -1.0))
    return run_coat(
        WALL, FLUID, constant(frame_rate=1.0, cradle_rate=0.6), volume=volume, until=until, threads=1,
        control=shorter(USUAL, share),
    )  # fmt: skip


def nodes_of(patches: Patches) -> list[tuple[Indices, Indices]]:
    """Own nodes of every patch, and all that are solved with it."""
    found = []
    for first, last in itertools.pairwise(patches.start):
        nodes, inner = patches.node[first:last], patches.inner[first:last]
        found.append((nodes[inner == 1], nodes))
    return found


def test_every_node_is_in_one_patch_and_patches_are_of_a_size() -> None:
    owned = [own for own, _ in nodes_of(new_patches(WALL))]
    assert np.array_equal(np.sort(np.concatenate(owned)), np.arange(len(WALL.area)))
    sizes = [len(own) for own in owned]
    assert min(sizes) >= LEAST_NODES
    assert max(sizes) - min(sizes) <= 1


def test_round_each_patch_lie_all_nodes_within_as_many_edges_as_there_are_rings_and_no_others() -> None:
    n = len(WALL.area)
    ends = np.r_[WALL.tail, WALL.head], np.r_[WALL.head, WALL.tail]
    joined = sparse.coo_array((np.ones(len(ends[0])), ends), shape=(n, n)).tocsr()
    for own, every in nodes_of(new_patches(WALL)):
        far = csgraph.dijkstra(joined, indices=own, unweighted=True, min_only=True)
        assert np.array_equal(np.sort(every), np.flatnonzero(far <= RINGS))


def test_band_factors_solve_as_numpy_does() -> None:
    random, n, width = np.random.default_rng(1), 40, 8
    near = np.abs(np.subtract.outer(np.arange(n), np.arange(n))) <= width
    matrix = np.where(near & (random.uniform(size=(n, n)) < 0.5), -random.uniform(size=(n, n)), 0.0)
    np.fill_diagonal(matrix, random.uniform(9.0, 10.0, n))
    band = np.zeros((n, 2 * width + 1), dtype=np.float32)
    for i, j in zip(*near.nonzero(), strict=True):
        band[j, i - j + width] = matrix[i, j]
    right = random.normal(size=n)
    held = np.concatenate([np.zeros(width), right, np.zeros(width)]).astype(np.float32)
    factorize(band.ravel(), n, width)
    unfold(band.ravel(), n, width, held)
    assert held[width:-width] == pytest.approx(np.linalg.solve(matrix, right), rel=1e-5, abs=1e-7)


def mixed_system() -> tuple[System, Floats]:
    """A linear system with stiff rows and others on the ball, and its matrix (n, n)."""
    system, n, random = new_system(WALL), len(WALL.area), np.random.default_rng(2)
    whole = np.zeros((n, n))
    system.own[:] = random.uniform(10.0, 14.0, n)
    system.stiff[:] = random.uniform(0.0, 10.0, n)
    for i in range(n):
        system.place[i] = system.node[i] = i
        beside = WALL.other[WALL.start[i] : WALL.start[i + 1]]
        at = slice(0, len(beside))
        system.column[i, at] = beside
        system.coupling[i, at] = random.uniform(1.0, 2.0, len(beside))
        system.drag[i, at] = -random.uniform(0.0, 1.0, len(beside))
        whole[i, beside] = system.drag[i, at] - system.coupling[i, at] * system.stiff[beside]
    system.sum_coupling[:] = system.coupling.sum(axis=1)
    whole[np.diag_indices(n)] = system.own + system.sum_coupling * system.stiff
    system.scale[:] = 1.0 / np.diag(whole)
    system.weight[:] = 1.0
    return system, whole


def test_stiff_rows_of_every_patch_are_solved_as_numpy_does_and_no_other_row_is_touched() -> None:
    (system, whole), n, random = mixed_system(), len(WALL.area), np.random.default_rng(3)
    stiff = np.diag(whole) > STIFFER * system.own
    assert 0.2 < stiff.mean() < 0.9
    assemble_patches(alone(), system)
    residual, out = random.normal(size=n + 1), np.full(n + 1, np.nan)
    solve_patches(alone(), system.patches, residual, out)
    assert np.array_equal(np.isfinite(out[:n]), stiff)
    for own, every in nodes_of(system.patches):
        rows = every[stiff[every]]
        solution = np.zeros(n)
        solution[rows] = np.linalg.solve(whole[np.ix_(rows, rows)], residual[rows])
        told = own[stiff[own]]
        assert out[told] == pytest.approx(solution[told], rel=1e-5, abs=1e-7)


def test_with_and_without_patches_the_solver_comes_to_what_numpy_does_with_them_sooner() -> None:
    (system, whole), n = mixed_system(), len(WALL.area)
    system.right[:] = np.random.default_rng(4).normal(size=n)
    wanted = np.linalg.solve(whole, system.right)
    taken = []
    for patched in (False, True):
        assemble_patches(alone(), system)
        iterations, _ = bicgstab(alone(), system, n, 1e-9, patched, 0.0)
        assert system.solution[:n] == pytest.approx(wanted, abs=1e-6 * np.abs(wanted).max())
        taken.append(iterations)
    assert 0 < taken[1] < taken[0]


def test_steps_while_a_pool_sweeps_the_wall_are_second_order() -> None:
    finest = turned(1 / 32).film.volume  # in long steps the bound on the prediction counts at fronts
    long, short = (float(WALL.area @ np.abs(turned(s).film.volume - finest)) for s in (1 / 4, 1 / 16))
    assert long / short > 14.0  # 7 in first order, 21 in second: (s - 1/32) and (s^2 - 1/32^2)
