"""A pool that flows mixes: how far its conversion spreads, and what stays."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.film.coat import new_film
from evenwall.film.fluid import constant_fluid
from evenwall.film.flux import Film
from evenwall.film.mixing import SWAPPED, mix, spread_of, swap
from evenwall.film.moving import limit, move, new_trial
from evenwall.film.operators import Wall, build_wall
from evenwall.film.state import Floats
from evenwall.film.team import alone
from evenwall.proof.shapes import ball, tube

FLUID = constant_fluid(viscosity=0.5, density=1050.0)
RADIUS, SPEED = 0.05, 0.02  # [m], [m/s]


def circling(wall: Wall, depth: float) -> Floats:
    """Flux of liquid of one `depth` that goes round a tube about x with SPEED."""
    angle = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    arc = RADIUS * np.angle(np.exp(1j * (angle[wall.head] - angle[wall.tail])))
    return np.asarray(wall.weight * arc * depth * SPEED)


def wave(wall: Wall, film: Film) -> float:
    """Amplitude of the second harmonic round the tube in the conversion []."""
    angle = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    held = wall.area * film.cured / film.volume
    return float(2.0 * abs((held * np.exp(2j * angle)).sum()) / wall.area.sum())


@pytest.mark.parametrize("around", [96, 160])
def test_a_wave_in_a_pool_fades_by_taylors_law_whatever_the_mesh(around: int) -> None:
    # D = <u'^2> T with u'^2 = u^2/5 in Nusselt's half parabola and T = h/u: Taylor 1922, from memory
    wall = build_wall(tube(RADIUS, around, uneven=0.0), curved=False)
    depth, dt, steps = 0.03, 0.00125, 1600
    film = new_film(wall, FLUID, np.full(len(wall.area), depth), temperature=296.0, conversion=0.2)
    angle = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    film.cured[:] = film.volume * (0.2 + 0.05 * np.cos(2.0 * angle))
    trial = new_trial(len(wall.area), len(wall.tail))
    before = wave(wall, film)
    for _ in range(steps):
        flux = circling(wall, depth)
        _, short = limit(alone(), wall, film.volume, flux, trial, dt)
        move(alone(), wall, film, flux, trial, dt, short, FLUID.viscosity)
        mix(alone(), wall, film, film.volume, flux, trial, dt)
    spread = SPEED * depth / 5.0
    fades = np.exp(-spread * (2.0 / RADIUS) ** 2 * dt * steps)
    assert fades < 0.7
    assert wave(wall, film) / before == pytest.approx(fades, rel=0.02)


def test_a_long_step_mixes_as_much_as_many_short_ones() -> None:
    """Taylor's law knows no steps; an exchange bounded once a step had mixed a deep pool by a sixth of it."""
    wall = build_wall(tube(RADIUS, 96, uneven=0.0), curved=False)
    depth, long = 0.03, 0.15
    angle = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    left = []
    for goes in (1, 64):
        film = new_film(wall, FLUID, np.full(len(wall.area), depth), temperature=296.0, conversion=0.2)
        film.cured[:] = film.volume * (0.2 + 0.05 * np.cos(8.0 * angle))
        flux, trial = circling(wall, depth), new_trial(len(wall.area), len(wall.tail))
        for _ in range(goes):
            mix(alone(), wall, film, film.volume, flux, trial, long / goes)
        left.append(np.ptp(film.cured / film.volume) / 0.1)
    assert left[0] == pytest.approx(left[1], abs=0.01)
    assert left[1] < 0.9


def test_swaps_keep_the_sums_and_stay_within_what_was_held() -> None:
    wall = build_wall(ball(0.04, rounds=3))
    random = np.random.default_rng(5)
    n = len(wall.area)
    film = new_film(wall, FLUID, random.uniform(1e-4, 0.03, n), temperature=296.0, conversion=0.0)
    film.cured[:] = film.volume * random.uniform(0.1, 0.3, n)
    film.heat[:] = film.volume * random.uniform(290.0, 330.0, n)
    cured, heat = wall.area @ film.cured, wall.area @ film.heat
    own = film.cured / film.volume
    flux = random.normal(scale=1e-5, size=len(wall.tail))
    mix(alone(), wall, film, film.volume, flux, new_trial(n, len(wall.tail)), 0.1)
    assert wall.area @ film.cured == pytest.approx(cured, rel=1e-13)
    assert wall.area @ film.heat == pytest.approx(heat, rel=1e-13)
    mixed = film.cured / film.volume
    assert wall.area @ (film.volume * (mixed - mixed.mean()) ** 2) < 0.95 * (
        wall.area @ (film.volume * (own - own.mean()) ** 2)
    )
    assert np.all(mixed >= own.min() - 1e-12)
    assert np.all(mixed <= own.max() + 1e-12)


def test_one_go_stays_within_what_neighbours_held() -> None:
    wall = build_wall(ball(0.04, rounds=3))
    random = np.random.default_rng(5)
    n = len(wall.area)
    film = new_film(wall, FLUID, random.uniform(1e-4, 0.03, n), temperature=296.0, conversion=0.0)
    film.cured[:] = film.volume * random.uniform(0.1, 0.3, n)
    own = film.cured / film.volume
    flux = random.normal(scale=1e-5, size=len(wall.tail))
    spread = np.array([spread_of(wall, film, film.volume, i) for i in range(n)])
    wanted = 0.1 * np.abs(flux) * np.minimum(spread[wall.tail], spread[wall.head])
    share = sum(np.bincount(ends, wanted, n) for ends in (wall.tail, wall.head)) / (wall.area * film.volume)
    assert share.max() > 4.0 * SWAPPED
    allowed = SWAPPED / np.maximum(share, SWAPPED)
    swap(alone(), wall, film, flux, spread, allowed, new_trial(n, len(wall.tail)), 0.1)
    mixed = film.cured / film.volume
    assert np.ptp(mixed) < np.ptp(own)
    least, most = own.copy(), own.copy()
    for i, j in ((wall.tail, wall.head), (wall.head, wall.tail)):
        np.minimum.at(least, i, own[j])
        np.maximum.at(most, i, own[j])
    assert np.all(mixed >= least - 1e-12)
    assert np.all(mixed <= most + 1e-12)


def test_a_film_as_thin_as_an_edge_is_left_to_its_donors() -> None:
    wall = build_wall(ball(0.04, rounds=3))
    n = len(wall.area)
    film = new_film(wall, FLUID, np.full(n, 1e-3), temperature=296.0, conversion=0.0)
    film.cured[:] = film.volume * np.random.default_rng(6).uniform(0.1, 0.3, n)
    own = film.cured.copy()
    mix(alone(), wall, film, film.volume, np.full(len(wall.tail), 1e-6), new_trial(n, len(wall.tail)), 0.1)
    assert np.array_equal(film.cured, own)
