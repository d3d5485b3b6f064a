"""Patches of the wall that speed the linear solver up, and the order of the steps while a pool sweeps the wall."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.film.coat import CoatRun, level_pool, run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.operators import build_wall
from evenwall.film.patches import factorize, new_patches
from evenwall.film.steps import USUAL, shorter
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


def test_every_node_is_in_one_patch_and_patches_are_of_a_size() -> None:
    patches = new_patches(WALL.x, WALL.normal, float(WALL.area.sum()))
    assert np.array_equal(np.sort(patches.node), np.arange(len(WALL.area)))
    sizes = np.diff(patches.start.astype(int))
    assert sizes.min() >= 32
    assert sizes.max() - sizes.min() <= 1
    for patch in (0, len(sizes) - 1):
        assert np.all(patches.of_node[patches.node[patches.start[patch] : patches.start[patch + 1]]] == patch)


def test_factors_multiply_to_the_matrix() -> None:
    random = np.random.default_rng(1)
    whole = np.diag(random.uniform(4.0, 5.0, 12)) - (random.uniform(size=(12, 12)) < 0.3)
    factors = whole.copy()
    factorize(factors, 12)
    assert (np.tril(factors, -1) + np.eye(12)) @ np.triu(factors) == pytest.approx(whole)


def test_steps_while_a_pool_sweeps_the_wall_are_second_order() -> None:
    finest = turned(1 / 32).film.volume  # in long steps the bound on the prediction counts at fronts
    long, short = (float(WALL.area @ np.abs(turned(s).film.volume - finest)) for s in (1 / 4, 1 / 16))
    assert long / short > 14.0  # 7 in first order, 21 in second: (s - 1/32) and (s^2 - 1/32^2)
