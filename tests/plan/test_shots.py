"""Shots from a wanted wall: volumes against exact shells, the search against made-up forecasts."""

import math

import numpy as np
import pytest
import trimesh

from evenwall.errors import PlanError
from evenwall.film.state import Figures
from evenwall.geometry.surface import Surface
from evenwall.plan.shots import (
    WallWish,
    cavity_measures,
    coat_thicknesses,
    propose,
    shot_volumes,
    wall_volume,
)


def surface_of(mesh):
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


SPHERE = surface_of(trimesh.creation.icosphere(subdivisions=5, radius=0.05))
BOX = surface_of(trimesh.creation.box(extents=(0.1, 0.06, 0.04)))


@pytest.mark.parametrize("thickness", [0.5e-3, 3e-3, 10e-3])
def test_wall_of_a_sphere_is_the_shell(thickness):
    shell = 4 / 3 * math.pi * (0.05**3 - (0.05 - thickness) ** 3)
    assert wall_volume(cavity_measures(SPHERE), thickness) == pytest.approx(shell, rel=2e-3)


def test_curvatures_of_closed_forms():
    # Steiner: a sphere has M = 4 pi R and K = 4 pi; a box of edges a, b, c has M = pi (a + b + c)
    sphere, box = cavity_measures(SPHERE), cavity_measures(BOX)
    assert sphere.mean_curvature == pytest.approx(4 * math.pi * 0.05, rel=1e-3)
    assert box.mean_curvature == pytest.approx(math.pi * 0.2, rel=1e-12)
    assert sphere.gauss_curvature == pytest.approx(4 * math.pi, rel=1e-12)


def test_a_ring_has_no_total_gauss_curvature():
    ring = cavity_measures(surface_of(trimesh.creation.torus(major_radius=0.04, minor_radius=0.012)))
    assert ring.gauss_curvature == 0.0
    # torus: M = 2 pi^2 R
    assert ring.mean_curvature == pytest.approx(2 * math.pi**2 * 0.04, rel=0.01)


def test_shots_add_up_to_the_wall():
    cavity = cavity_measures(SPHERE)
    volumes = shot_volumes(cavity, (1e-3, 1e-3, 1e-3))
    assert sum(volumes) == pytest.approx(wall_volume(cavity, 3e-3), rel=1e-12)
    assert volumes[0] > volumes[1] > volumes[2]  # each coat narrows the cavity


def test_a_coat_is_about_a_millimetre():
    # 100 mL for 1000 cm2; three or four coats make 3 to 4 mm: common practice, no source
    assert 3 <= len(coat_thicknesses(3e-3, None)) <= 4
    assert 3 <= len(coat_thicknesses(4e-3, None)) <= 4
    flat = cavity_measures(BOX)
    assert wall_volume(flat, 1e-3) / flat.area * 0.1 == pytest.approx(100e-6, rel=0.06)


class Told:
    """A forecast that a test makes up: a coat over `pools_over` lumps, the thinnest place has `share`."""

    def __init__(self, *, pools_over=1.0, share=1.0, area=1.0):
        self.pools_over, self.share, self.area, self.calls = pools_over, share, area, []

    def __call__(self, volumes):
        self.calls.append(volumes)
        mean = sum(volumes) / self.area
        figures = Figures(mean=mean, p05=mean, median=mean, p95=mean, cv=0.0, least=self.share * mean)
        coats = tuple(Coat(v / self.area > self.pools_over) for v in volumes)
        return Forecast(coats, figures)


class Coat:
    def __init__(self, lump):
        self.lump = lump


class Forecast:
    stopped = False

    def __init__(self, coats, figures):
        self.coats, self.figures = coats, figures


def test_a_good_first_try_is_kept_without_a_word():
    told = Told(area=cavity_measures(BOX).area)
    proposal = propose(cavity_measures(BOX), WallWish(usual=2e-3, least=1e-3), told)
    assert len(told.calls) == 1
    assert proposal.reasons == ()


def test_a_lump_splits_the_shots_and_says_so():
    area = cavity_measures(BOX).area
    proposal = propose(
        cavity_measures(BOX), WallWish(usual=2e-3, least=1e-3), Told(pools_over=0.8e-3, area=area)
    )
    assert len(proposal.volumes) == 3
    assert not any(c.lump for c in proposal.forecast.coats)
    assert any("lump" in r for r in proposal.reasons)


def test_a_thin_place_raises_the_wall_within_bounds():
    area = cavity_measures(BOX).area
    proposal = propose(cavity_measures(BOX), WallWish(usual=2e-3, least=1.2e-3), Told(share=0.5, area=area))
    assert 1.2 <= sum(proposal.coats) / 2e-3 <= 1.5
    assert any("raised" in r for r in proposal.reasons)


def test_own_shots_are_kept_and_judged():
    area = cavity_measures(BOX).area
    wish = WallWish(usual=2e-3, least=1e-3, volumes=(50e-6,))
    proposal = propose(cavity_measures(BOX), wish, Told(pools_over=1e-3, area=area))
    assert proposal.volumes == (50e-6,)
    assert any("lump" in r for r in proposal.reasons)


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (WallWish(usual=15e-3, least=1e-3), "nearly the whole cavity"),
        (WallWish(usual=2e-3, least=3e-3), "least wall"),
        (WallWish(usual=2e-3, least=1e-3, volumes=(1e-3,)), "make the shots smaller"),
    ],
)
def test_wishes_that_no_hollow_casting_fulfils(wish, said):
    with pytest.raises(PlanError, match=said):
        propose(cavity_measures(BOX), wish, Told())
