"""What holds for every flow: volume, sign, energy, order, independence of axes and numbers, a second solver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from evenwall.errors import InputError
from evenwall.film.coat import level_pool, run_coat, thicknesses
from evenwall.film.fluid import Terms, constant_fluid
from evenwall.film.operators import Wall, build_wall
from evenwall.film.steps import Control
from evenwall.geometry.surface import Surface
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


def energy(wall: Wall, h: np.ndarray) -> float:
    """Weight and surface of a thin film at rest [J], the energy whose gradient drives it."""
    rho, sigma = THIN.density, THIN.surface_tension
    b = -GRAVITY * wall.normal[:, 2]
    mean, gauss = wall.mean, wall.gauss
    v = h - mean * h**2 + gauss * h**3 / 3.0
    own = h**2 / 2.0 - 2.0 * mean * h**3 / 3.0 + gauss * h**4 / 4.0
    total = wall.area @ (rho * GRAVITY * wall.x[:, 2] * v - rho * b * own)
    total += sigma * wall.area @ (1.0 - 2.0 * mean * h + gauss * h**2)
    return float(total + 0.5 * sigma * wall.weight @ (h[wall.tail] - h[wall.head]) ** 2)


def test_energy_falls_while_the_mold_rests() -> None:
    wall = build_wall(ball(0.05, rounds=3))
    bumpy = 8e-4 * (1.0 + 0.5 * np.sin(300.0 * wall.x[:, 0]) * np.cos(200.0 * wall.x[:, 1]))
    run = run_coat(wall, THIN, still(), volume=bumpy, until=1.6, snapshots=np.linspace(0.1, 1.6, 16))
    kept = run.history.thickness.astype(np.float64)
    levels = [energy(wall, thicknesses(wall, bumpy)), *(energy(wall, h) for h in kept)]
    assert kept.max() < 3.0e-3
    assert np.all(np.diff(levels) < 0.0)


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


def test_order_of_convergence_over_three_refinements() -> None:
    first = [rimming_error(n, second_order=0.0) for n in (24, 48, 96, 192)]
    second = [rimming_error(n, second_order=1.0) for n in (24, 48, 96, 192)]
    assert math.log2(first[0] / first[3]) / 3.0 > 0.75
    assert math.log2(second[0] / second[3]) / 3.0 > 2.0
    assert second[3] < 0.02 * first[3]
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


def test_same_answer_in_turned_axes_and_with_other_numbers() -> None:
    surface = ball(0.05, rounds=3)
    order = np.random.default_rng(3).permutation(len(surface.vertices))
    back = np.argsort(order)
    about_z = Rotation.from_euler("z", 0.7).as_matrix()
    other = Surface(surface.vertices[order] @ about_z.T, back[surface.faces])
    results = []
    for one, angle in ((surface, 0.0), (other, -0.7)):
        wall = build_wall(one)
        motion = constant(frame_rate=1.05, cradle_rate=0.0, cradle_angle=angle)
        start = np.full(len(wall.area), 1e-3)
        results.append(run_coat(wall, THIN, motion, volume=start, until=6.0).thickness)
    assert np.abs(results[1][back] - results[0]).max() < 1e-2 * results[0].mean()


def test_a_stiff_integrator_agrees_on_a_small_case() -> None:
    # the same semi-discrete equations, written out again in numpy, by scipy's BDF
    wall = build_wall(ball(0.05, rounds=2), curved=False)
    start = 1e-3 * (1.0 + 0.3 * wall.x[:, 0] / 0.05)
    fluid = constant_fluid(viscosity=1.0, density=1000.0, surface_tension=0.03)
    terms = Terms(wall_curvature=0.0, inertia=0.0, second_order=0.0)
    n, i, j = len(start), wall.tail.astype(int), wall.head.astype(int)
    down = np.array([0.0, 0.0, -GRAVITY])

    def flow(_: float, v: np.ndarray) -> np.ndarray:
        h = np.maximum(v, 0.0)
        pull = wall.weight * (h[i] - h[j])
        bend = (np.bincount(i, pull, n) - np.bincount(j, pull, n)) / wall.area
        psi = 1000.0 * (-(wall.x @ down) - (wall.normal @ down) * h) + 0.03 * bend
        drop = psi[i] - psi[j]
        donor = np.where(drop >= 0.0, h[i], h[j])
        q = wall.weight * donor**3 / (3.0 + donor**2 / terms.mobility_cap) * drop
        return -(np.bincount(i, q, n) - np.bincount(j, q, n)) / wall.area

    expected = solve_ivp(flow, (0.0, 2.5), start, method="BDF", rtol=1e-7, atol=1e-11).y[:, -1]
    got = run_coat(wall, fluid, still(), volume=start, until=2.5, terms=terms)
    assert expected.max() < 3.0e-3
    assert wall.area @ np.abs(got.film.volume - expected) < 0.01 * (wall.area @ expected)


def test_bad_volumes_are_refused() -> None:
    wall = build_wall(ball(0.05, rounds=2))
    with pytest.raises(InputError, match="at least 0"):
        run_coat(wall, THIN, still(), volume=np.full(len(wall.area), -1e-3), until=1.0)
