"""What holds for every flow: volume, sign, levelling, order on even and uneven meshes, a puddle past the load."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenwall.errors import InputError
from evenwall.film.coat import level_pool, run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.operators import build_wall
from evenwall.film.steps import Control
from evenwall.proof.film import PLAIN, curing, moffatt_profile
from evenwall.proof.shapes import ball, plate, tube
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import constant, still

THIN = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)
TURNING = constant(frame_rate=1.05, cradle_rate=0.65)


def test_volume_is_exact_and_nothing_below_zero_with_a_moving_pool() -> None:
    wall = build_wall(ball(0.05, rounds=3))
    poured = level_pool(wall, 60e-6, (0.0, 0.0, -1.0))
    run = run_coat(wall, THIN, TURNING, volume=poured, until=15.0)
    assert run.volume_error < 1e-10
    assert run.film.volume.min() >= 0.0
    assert run.thickness.max() < 0.03


def test_a_gelling_coat_keeps_its_volume_and_stands() -> None:
    wall = build_wall(ball(0.05, rounds=3))
    run = run_coat(wall, curing(), TURNING, volume=level_pool(wall, 30e-6, (0.0, 0.0, -1.0)), until=400.0)
    assert run.gelled
    assert run.volume_error < 1e-10
    assert np.isfinite(run.record.gel_time).mean() > 0.95
    assert np.all(run.film.solid_cured[run.film.solid > 1e-5] >= curing().cure.gel - 1e-9)


def test_ripples_on_a_floor_level_at_the_linear_rate() -> None:
    # linear theory: rate = (h^3 / 3 mu)(rho g k^2 + sigma k^4), standard lubrication result
    length = 0.02
    wall = build_wall(plate(length, length / 48.0), curved=False)
    wave = np.cos(2.0 * math.pi * wall.x[:, 1] / length)
    start = 1e-3 * (1.0 + 1e-3 * wave)
    run = run_coat(
        wall, THIN, still(), volume=start, until=0.5, control=Control(relative=1e-6, absolute=1e-10)
    )
    k = 2.0 * math.pi / length
    rate = 1e-9 / 0.9 * (1050.0 * GRAVITY * k**2 + 0.035 * k**4)
    left = float(wall.area @ (run.film.volume * wave)) / float(wall.area @ (1e-6 * wave**2))
    assert -math.log(left) / 0.5 == pytest.approx(rate, rel=0.02)


def rimming_error(around: int, *, second_order: float, uneven: float = 0.0) -> float:
    radius, rate = 0.05, 2.0 * math.pi / 6.0
    scale = math.sqrt(1e-3 * radius * rate / GRAVITY)
    wall = build_wall(tube(radius, around, uneven=uneven), curved=False)
    exact = moffatt_profile(0.5, np.arctan2(wall.x[:, 2], wall.x[:, 1]))
    run = run_coat(
        wall,
        constant_fluid(viscosity=1.0, density=1000.0),
        constant(frame_rate=rate, cradle_rate=0.0),
        volume=scale * exact,
        until=3.0,
        terms=PLAIN._replace(second_order=second_order),
        control=Control(turn_late=0.6 / around),
    )
    turned = moffatt_profile(0.5, np.arctan2(wall.x[:, 2], wall.x[:, 1]) + math.pi)
    return float(wall.area @ np.abs(run.thickness / scale - turned)) / float(wall.area @ exact)


def test_donor_faces_converge_to_first_order_and_others_faster() -> None:
    first = [rimming_error(n, second_order=0.0) for n in (24, 48, 96, 192)]
    second = rimming_error(192, second_order=1.0)
    assert math.log2(first[0] / first[3]) / 3.0 > 0.75
    assert second < 0.02 * first[3]
    uneven = [rimming_error(n, second_order=1.0, uneven=0.12) for n in (24, 96)]
    assert uneven[1] < 0.5 * uneven[0]


def test_more_than_the_greatest_load_makes_a_puddle_at_the_bottom() -> None:
    # Moffatt (1977): no full film above a load of 4.4427; its puddle hangs on the rising side, below the axis
    radius, rate = 0.05, 2.0 * math.pi / 6.0
    scale = math.sqrt(1e-3 * radius * rate / GRAVITY)
    wall = build_wall(tube(radius, 96), curved=False)
    theta = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    for load, puddle in ((3.9, False), (5.5, True)):
        run = run_coat(
            wall,
            constant_fluid(viscosity=1.0, density=1000.0, surface_tension=0.03),
            constant(frame_rate=rate, cradle_rate=0.0),
            volume=np.full(len(theta), load / (2.0 * math.pi) * scale),
            until=36.0,
        )
        thickest = math.degrees(theta[np.argmax(run.thickness)])
        ratio = run.thickness.max() / run.thickness.mean()
        assert (ratio > 1.7) == puddle
        assert not puddle or -90.0 < thickest < -10.0


def test_bad_volumes_are_refused() -> None:
    wall = build_wall(ball(0.05, rounds=2))
    with pytest.raises(InputError, match="at least 0"):
        run_coat(wall, THIN, still(), volume=np.full(len(wall.area), -1e-3), until=1.0)
