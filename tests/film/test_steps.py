"""What a step's estimated error counts."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.film.coat import run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.operators import build_wall
from evenwall.film.steps import USUAL, mean_change
from evenwall.film.team import alone
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

WALL = build_wall(ball(0.04, rounds=3))


def test_the_error_is_the_root_mean_square_over_the_wall() -> None:
    change = np.random.default_rng(1).normal(scale=1e-5, size=len(WALL.area))
    found = mean_change(alone(), WALL, change * WALL.area / 0.1, 0.1, 1e-3)
    assert found == pytest.approx(np.sqrt(np.average(change**2, weights=WALL.area)), rel=1e-12)


def test_a_single_node_that_fills_and_empties_does_not_rule_the_step() -> None:
    net = np.zeros(len(WALL.area))
    net[7] = 0.05 * WALL.area[7] / 0.1  # 50 mm in 0.1 s
    found = mean_change(alone(), WALL, net, 0.1, 1e-3)
    assert found == pytest.approx(1e-3 * np.sqrt(WALL.area[7] / WALL.area.sum()), rel=1e-12)


def test_an_error_that_cannot_be_met_leaves_the_film_to_bdf2() -> None:
    even = np.full(len(WALL.area), 5e-4)
    never = USUAL._replace(absolute=1e-12, relative=0.0)
    rate, until = 1.0, 4.0
    turning = constant(frame_rate=rate, cradle_rate=0.0)
    fluid = constant_fluid(viscosity=2.0, density=1050.0)
    run = run_coat(WALL, fluid, turning, volume=even, until=until, control=never)
    assert run.steps + run.failed < 2.5 * until * rate / USUAL.turn
    usual = run_coat(WALL, fluid, turning, volume=even, until=until)
    assert np.abs(run.thickness - usual.thickness).max() < 0.01 * 5e-4
