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
    assert eq.volume_of(3e-3, mean, gauss, eq.fill_limit(mean, gauss)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("mean", "gauss"), WALLS)
def test_thickness_is_the_inverse_of_volume(mean: float, gauss: float) -> None:
    limit = eq.fill_limit(mean, gauss)
    for h in np.geomspace(1e-7, 0.1, 40):
        v = eq.volume_of(h, mean, gauss, limit)
        assert eq.thickness_of(v, mean, gauss, limit) == pytest.approx(h, rel=1e-9)


@pytest.mark.parametrize(("mean", "gauss"), WALLS)
def test_slope_is_the_derivative_and_never_too_flat(mean: float, gauss: float) -> None:
    limit = eq.fill_limit(mean, gauss)
    for h in (1e-4, 3e-3, 0.02, 0.06):
        rise = eq.volume_of(h + 1e-8, mean, gauss, limit) - eq.volume_of(h - 1e-8, mean, gauss, limit)
        assert eq.slope_of(h, mean, gauss, limit) == pytest.approx(rise / 2e-8, rel=1e-5)
        assert eq.slope_of(h, mean, gauss, limit) >= eq.STEEPEST_FILL - 1e-12


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
