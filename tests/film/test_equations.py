"""The film's laws at one place: shells of simple walls, inverses, slopes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenwall.film import equations as eq

WALLS = [(20.0, 400.0), (-20.0, 400.0), (10.0, 0.0), (-10.0, 0.0), (0.0, -100.0), (0.0, 0.0)]


@pytest.mark.parametrize(
    ("mean", "gauss", "expected"),
    [(20.0, 400.0, 2.8236e-3), (-20.0, 400.0, 3.1836e-3), (10.0, 0.0, 2.91e-3)],
)
def test_volume_is_that_of_the_shell(mean: float, gauss: float, expected: float) -> None:
    # Roy, Roberts & Simpson (2002): 3 mm inside and outside a sphere, inside a cylinder, radius 50 mm
    assert eq.volume_of(3e-3, mean, gauss) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("mean", "gauss"), WALLS)
def test_thickness_is_the_inverse_of_volume_up_to_the_brim(mean: float, gauss: float) -> None:
    limit = min(eq.fill_limit(mean, gauss, eq.LEAST_FILL), 0.2)
    brim = eq.volume_of(limit, mean, gauss)
    for h in limit * np.geomspace(1e-6, 0.999, 40):
        v = eq.volume_of(h, mean, gauss)
        assert eq.thickness_of(v, mean, gauss, limit, brim) == pytest.approx(h, rel=1e-9)
    assert eq.thickness_of(2.0 * brim, mean, gauss, limit, brim) == limit


@pytest.mark.parametrize(("mean", "gauss"), WALLS)
def test_slope_is_the_derivative_and_never_too_flat(mean: float, gauss: float) -> None:
    limit = min(eq.fill_limit(mean, gauss, eq.LEAST_FILL), 0.2)
    for h in limit * np.array([0.01, 0.1, 0.5, 1.0]):
        rise = eq.volume_of(h + 1e-8, mean, gauss) - eq.volume_of(h - 1e-8, mean, gauss)
        assert eq.slope_of(h, mean, gauss) == pytest.approx(rise / 2e-8, rel=1e-5)
        assert eq.slope_of(h, mean, gauss) >= eq.LEAST_FILL - 1e-12


@pytest.mark.parametrize(("mean", "gauss"), WALLS)
def test_surface_goes_on_straight_whatever_the_brim(mean: float, gauss: float) -> None:
    limit = min(eq.fill_limit(mean, gauss, eq.LEAST_FILL), 0.05)
    brim = eq.volume_of(limit, mean, gauss)
    bend = eq.fill_limit(mean, gauss, eq.LEAST_LIFT)
    bent = eq.volume_of(bend, mean, gauss) if bend < math.inf else math.inf
    before = -1.0
    for v in brim * np.linspace(0.0, 2.0, 300):
        h = eq.thickness_of(v, mean, gauss, limit, brim)
        slope = eq.slope_of(h, mean, gauss) if v < brim else 0.0
        surface, lift = eq.surface_of(v, h, slope, mean, gauss, bend, bent)
        assert lift >= eq.LEAST_LIFT - 1e-12
        if before >= 0.0:
            assert (surface - before) * lift == pytest.approx(brim * 2.0 / 299.0, rel=0.02)
        before = surface


def test_mobility_is_nusselts_and_bounded() -> None:
    assert eq.mobility(1e-3, 1.0, math.inf) == pytest.approx(1e-9 / 3.0)
    assert eq.mobility(0.1, 1e-3, 1e-4) == pytest.approx(0.1 * 1e-4, rel=1e-3)
    for h in (1e-4, 1e-3, 1e-2):
        rise = eq.mobility(h * 1.0001, 0.2, 1e-4) - eq.mobility(h * 0.9999, 0.2, 1e-4)
        assert eq.mobility_slope(h, 0.2, 1e-4) == pytest.approx(rise / (2e-4 * h), rel=1e-4)


def test_saturation_leaves_films_alone_and_bounds_pools() -> None:
    assert eq.saturated(3e-3, 3.5e-3) == 3e-3
    assert eq.saturated(1.0, 3.5e-3) < 7e-3
    assert eq.saturated_slope(3.5e-3, 3.5e-3) == 1.0


def test_faces_keep_even_crests_and_bound_fronts() -> None:
    assert eq.face_thickness(1e-3, 1e-4, 1e-4) == pytest.approx(1.05e-3)  # a straight slope
    mean = math.sin(0.15) / 0.15  # of a cosine over its cell
    h = [1e-3 + 1e-4 * mean * math.cos(0.3 * i) for i in range(-1, 2)]
    crest = eq.face_thickness(h[1], h[1] - h[0], h[2] - h[1])
    assert crest == pytest.approx(1e-3 + 1e-4 * math.cos(0.15), rel=1e-3)
    assert eq.face_thickness(1e-3, -9e-4, 5e-3) == 1e-3
    for run, rise in ((9e-4, 5e-3), (9e-4, -9e-4), (-9e-4, -9e-4), (-4e-4, 3e-4), (0.0, -9e-4)):
        assert 0.0 < eq.face_thickness(1e-3, run, rise) <= 1e-3 + max(rise, 3e-4)
