"""Drops under overhangs: how much hangs, what falls, and that nothing is lost on the way."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenwall.film.coat import level_pool, run_coat, volumes
from evenwall.film.drops import LARGEST_DROP
from evenwall.film.fluid import ALL_TERMS, constant_fluid
from evenwall.film.operators import Wall, build_wall
from evenwall.proof.shapes import ball
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import constant, still

THICK = constant_fluid(viscosity=5.0, density=1050.0, surface_tension=0.035)
LENGTH = math.sqrt(0.035 / (1050.0 * GRAVITY))


def hung(wall: Wall, drops: float) -> np.ndarray:
    """A body under the top of the ball, `drops` times the largest that hangs, on a thin film."""
    aside = np.hypot(wall.x[:, 0], wall.x[:, 1])
    shape = np.where(wall.x[:, 2] > 0.0, np.maximum(1.0 - (aside / (4.0 * LENGTH)) ** 2, 0.0), 0.0)
    return shape * (drops * LARGEST_DROP * LENGTH**3 / float(wall.area @ shape))


def fell(wall: Wall, volume: np.ndarray, until: float) -> tuple[float, float]:
    """Share of the volume that fell, and that stood in the lower half at the end."""
    run = run_coat(wall, THICK, still(), volume=volume, until=until)
    assert run.volume_error < 1e-10
    whole = float(wall.area @ volume)
    low = wall.x[:, 2] < 0.0
    return float(wall.area @ run.record.fallen) / whole, float(wall.area[low] @ run.film.volume[low]) / whole


def test_more_than_a_drop_falls_and_less_hangs() -> None:
    wall = build_wall(ball(0.03, rounds=4))
    assert fell(wall, hung(wall, 0.6), 0.5)[0] == 0.0
    share, below = fell(wall, hung(wall, 3.0), 3.0)
    assert share > 0.3
    assert below == pytest.approx(share, rel=0.02)


def test_a_drop_keeps_its_conversion_and_warmth_and_lands_below() -> None:
    wall = build_wall(ball(0.03, rounds=4))
    volume = hung(wall, 3.0)
    upper = wall.x[:, 2] > 0.0
    run = run_coat(
        wall, THICK, still(), volume=volume, until=1.0, temperature=np.where(upper, 310.0, 290.0),
        conversion=np.where(upper, 0.3, 0.0),
    )  # fmt: skip
    landed = ~upper & (run.film.volume > 1e-6)
    assert landed.any()
    assert np.allclose(run.film.cured[landed] / run.film.volume[landed], 0.3)
    assert np.allclose(run.film.heat[landed] / run.film.volume[landed], 310.0)
    assert np.hypot(wall.x[landed, 0], wall.x[landed, 1]).max() < 0.02


def test_a_moving_pool_is_not_chopped() -> None:
    wall = build_wall(ball(0.05, rounds=4))
    fluid = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)
    turning = constant(frame_rate=1.05, cradle_rate=0.65)
    poured = level_pool(wall, 57e-6, (0.0, 0.0, -1.0))
    run = run_coat(wall, fluid, turning, volume=poured, until=12.0)
    assert float(wall.area @ run.record.fallen) < 0.02 * 57e-6
    without = run_coat(wall, fluid, turning, volume=poured, until=12.0, terms=ALL_TERMS._replace(drops=0.0))
    assert float(wall.area @ np.abs(run.film.volume - without.film.volume)) < 0.05 * 57e-6


def test_even_films_hang_on() -> None:
    wall = build_wall(ball(0.05, rounds=3))
    film = volumes(wall, np.full(len(wall.area), 1.2e-3))
    run = run_coat(wall, THICK, still(), volume=film, until=2.0)
    assert run.record.fallen.max() == 0.0
