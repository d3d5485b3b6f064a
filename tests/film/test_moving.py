"""Liquid that moves along given fluxes: what a node may give, and what moves with it."""

from __future__ import annotations

import numpy as np

from evenwall.film.coat import new_film
from evenwall.film.fluid import constant_fluid
from evenwall.film.flux import Film
from evenwall.film.moving import Trial, limit, move, net_outflow, new_trial
from evenwall.film.operators import build_wall
from evenwall.film.state import Floats
from evenwall.film.team import alone
from evenwall.proof.shapes import ball

BALL = ball(0.04, rounds=3)
WALL = build_wall(BALL)
RANDOM = np.random.default_rng(3)
FLUID = constant_fluid(viscosity=0.5, density=1050.0)
LAW = FLUID.viscosity


def film() -> Film:
    """1 mm everywhere, of many conversions and temperatures."""
    n = len(WALL.area)
    made = new_film(WALL, FLUID, np.full(n, 1e-3), temperature=296.0, conversion=0.0)
    made.cured[:] = made.volume * RANDOM.uniform(0.1, 0.2, n)
    made.heat[:] = made.volume * RANDOM.uniform(290.0, 300.0, n)
    return made


def moved(moving: Film, flux: Floats, dt: float) -> Trial:
    trial = new_trial(len(WALL.area), len(WALL.tail))
    _, short = limit(alone(), WALL, moving.volume, flux, trial, dt)
    move(alone(), WALL, moving, flux, trial, dt, short, LAW)
    return trial


def circulation() -> Floats:
    """Fluxes of a stream function that has one value on every face: what comes to a node leaves it."""
    edge = {(int(i), int(j)): e for e, (i, j) in enumerate(zip(WALL.tail, WALL.head, strict=True))}
    flux = np.zeros(len(edge))
    for face, value in zip(BALL.faces, RANDOM.normal(size=len(BALL.faces)), strict=True):
        for i, j in ((face[0], face[1]), (face[1], face[2]), (face[2], face[0])):
            flux[edge[min(i, j), max(i, j)]] += value if i < j else -value
    return flux


def test_liquid_that_passes_through_a_node_is_not_dammed_up() -> None:
    flux, moving = circulation(), film()
    net = np.zeros(len(WALL.area))
    net_outflow(alone(), WALL, flux, net)
    assert np.abs(net).max() < 1e-12 * np.abs(flux).max()
    out = np.bincount(WALL.tail, np.maximum(flux, 0.0), len(WALL.area))
    out += np.bincount(WALL.head, np.maximum(-flux, 0.0), len(WALL.area))
    dt = 1.4 * float((WALL.area * moving.volume / out).min())
    given = moved(moving, flux, dt)
    assert np.count_nonzero(given.over) > 0
    np.testing.assert_allclose(moving.volume, 1e-3, rtol=1e-9)


def test_no_node_gives_more_than_there_is_however_strong_the_flow() -> None:
    moving = film()
    whole, cured, heat = (float(WALL.area @ field) for field in (moving.volume, moving.cured, moving.heat))
    for _ in range(5):
        moved(moving, RANDOM.normal(size=len(WALL.tail)) * whole, 1.0)
        np.testing.assert_allclose(WALL.area @ moving.cured, cured, rtol=1e-10)
        np.testing.assert_allclose(WALL.area @ moving.heat, heat, rtol=1e-10)
        wet = moving.volume > 0.0
        assert moving.volume.min() >= 0.0
        np.testing.assert_allclose(WALL.area @ moving.volume, whole, rtol=1e-10)
        conversion = moving.cured[wet] / moving.volume[wet]
        temperature = moving.heat[wet] / moving.volume[wet]
        assert conversion.min() > 0.1 - 1e-9
        assert conversion.max() < 0.2 + 1e-9
        assert temperature.min() > 290.0 - 1e-6
        assert temperature.max() < 300.0 + 1e-6


def test_what_is_left_of_a_node_that_gave_all_spoils_nothing() -> None:
    moving = film()
    moving.volume[::2], moving.cured[::2], moving.heat[::2] = 1e-310, 0.0, 0.0  # too small to be divided by
    whole = float(WALL.area @ moving.volume)
    for _ in range(3):
        moved(moving, RANDOM.normal(size=len(WALL.tail)) * whole, 1e-3)
        np.testing.assert_allclose(WALL.area @ moving.volume, whole, rtol=1e-10)
        assert np.isfinite(moving.cured).all()
        assert np.isfinite(moving.heat).all()


def test_conversion_and_heat_are_kept_in_sum() -> None:
    """What a node gives its neighbours get: in sum nothing comes or goes, also where nodes give on what they get."""
    for strong in (0.3, 1.4, 5.0):
        moving, flux = film(), circulation()
        before = [float(WALL.area @ field) for field in (moving.volume, moving.cured, moving.heat)]
        out = np.bincount(WALL.tail, np.maximum(flux, 0.0), len(WALL.area))
        out += np.bincount(WALL.head, np.maximum(-flux, 0.0), len(WALL.area))
        moved(moving, flux, strong * float((WALL.area * moving.volume / out).min()))
        after = [float(WALL.area @ field) for field in (moving.volume, moving.cured, moving.heat)]
        np.testing.assert_allclose(after, before, rtol=1e-10, err_msg=str(strong))
