"""What makers see, on a few pieces of our own: directions and orders of magnitude (common practice, no source)."""

from __future__ import annotations

from functools import cache

import manifold3d
import numpy as np
import pytest

from evenwall.files.resin_file import load_resin
from evenwall.film.findings import quantile
from evenwall.film.operators import inward_normals
from evenwall.film.reach import reach
from evenwall.film.results import SAID_CARRIED
from evenwall.film.run import forecast
from evenwall.film.spin import potential, spun_surface
from evenwall.film.state import FilmForecast, Shot
from evenwall.film.transfer import third_areas
from evenwall.geometry.remesh import remesh
from evenwall.geometry.solid import area, measures
from evenwall.geometry.surface import Surface
from evenwall.resin.witness import Cup, cup_history, gel_time
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import constant

TURNING = constant(frame_rate=1.0, cradle_rate=0.618)  # about ten turns a minute
SLOWLY = constant(frame_rate=0.5, cradle_rate=0.309)  # about five
GRADUAL, SUDDEN = "museum-gradual", "museum-sudden"
COAT = 1.0e-3  # wall of a planned coat [m]


def surface_of(solid: manifold3d.Manifold, nodes: int) -> Surface:
    mesh = solid.to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    return remesh(Surface(points, np.asarray(mesh.tri_verts).astype(np.int64)), nodes=nodes).surface


@cache
def piece(name: str, nodes: int = 700) -> Surface:
    ball = manifold3d.Manifold.sphere(0.026, 48)
    if name == "blob":
        return surface_of(ball.scale((1.0, 1.25, 0.8)) + ball.translate((0.02, 0.01, 0.012)), nodes)
    if name == "ring":
        tube = manifold3d.CrossSection.circle(0.012, 32).translate((0.032, 0.0))
        return surface_of(manifold3d.Manifold.revolve(tube, 64), nodes)
    horn = manifold3d.Manifold.cylinder(0.035, 0.009, 0.006, 32)
    horns = horn.rotate((0.0, 50.0, 0.0)).translate((0.01, 0.0, 0.01))
    horns += horn.rotate((0.0, -60.0, 20.0)).translate((-0.01, 0.0, 0.01))
    return surface_of(ball.scale((1.0, 1.0, 1.3)) + horns, nodes)


@cache
def cast(
    name: str, *, resin: str = GRADUAL, times: float = 1.0, coats: int = 1, slowly: bool = False
) -> FilmForecast:
    wall = piece(name)
    shots = tuple(Shot(volume=times * COAT * area(wall), mixed_at=1200.0 * number) for number in range(coats))
    turning = SLOWLY if slowly else TURNING
    return forecast(
        wall, load_resin(resin), turning, shots, crossing=measures(wall).centroid, second_mesh=False
    )


@pytest.mark.parametrize("name", ["blob", "horned", "ring"])
def test_a_planned_coat_is_even_without_pool_or_dry_wall(name: str) -> None:
    found = cast(name)
    coat = found.coats[0]
    assert coat.figures.p95 / coat.figures.p05 < 3.0
    assert coat.figures.mean == pytest.approx(COAT, rel=0.15)  # hollow walls: thicker than volume over area
    assert coat.pool_fraction < 0.02
    assert coat.dry_fraction < 0.005
    assert not coat.lump
    assert {one.kind for one in coat.findings} <= {"sag"}
    assert found.volume_error < 1e-10
    assert found.enclosed_error < 0.03  # creases on 700 nodes; a smooth wall: test_film_run


@pytest.mark.parametrize("name", ["blob", "horned"])
def test_three_times_the_shot_leaves_a_pool_and_says_lump(name: str) -> None:
    """Too much in one shot rolls together, warms and sets as a lump; the resin is one that sets at once."""
    planned, much = (cast(name, resin=SUDDEN, times=times, slowly=True).coats[0] for times in (1.0, 3.0))
    assert not planned.lump
    assert much.lump
    assert much.pool_fraction > 0.02
    lump = next(one for one in much.findings if one.kind == "lump")
    assert lump.amount > lump.limit
    assert "pour less" in lump.help.lower()
    assert much.peak > planned.peak + 10.0
    gradual = cast(name, times=3.0, slowly=True).coats[0]
    assert {one.kind for one in gradual.findings} & {"pool", "lump", "uneven"}


def test_coats_build_up_the_thinnest_places_which_stay_the_thinnest() -> None:
    found = cast("horned", coats=2)
    first, second = found.coats
    assert found.figures.least > 1.5 * first.figures.least
    assert found.figures.mean == pytest.approx(first.figures.mean + second.figures.mean, rel=0.05)
    one, other = found.coat_thickness
    thin = one <= np.quantile(one, 0.1)
    assert np.average(other[thin], weights=found.node_area[thin]) < second.figures.median


def test_a_second_coat_on_a_mold_still_warm_gels_sooner() -> None:
    wall = piece("blob")
    volume = COAT * area(wall)
    gels = []
    for wait in (420.0, 4000.0):
        shots = (Shot(volume=volume), Shot(volume=volume, mixed_at=wait))
        found = forecast(
            wall, load_resin(SUDDEN), TURNING, shots, crossing=measures(wall).centroid, second_mesh=False
        )
        gels.append(found.coats[1].gel_film)
    assert gels[0] < gels[1]


@pytest.mark.parametrize("resin", [GRADUAL, SUDDEN])
def test_a_bulk_cup_gels_before_the_film_in_a_cool_mold(resin: str) -> None:
    """Film gels 2 to 4 times the pot life of a 100 g cup."""
    data = load_resin(resin)
    cup = gel_time(data, cup_history(data, Cup(), 0.1, temperature=296.15, air_temperature=295.15))
    assert cup < cast("blob", resin=resin).coats[0].gel_film


def test_resin_that_thickens_gradually_coats_more_evenly() -> None:
    for name in ("blob", "horned"):
        # as a whole: on the sharp ridge where two bodies meet, a film that flows for longer drains for longer
        gradual, sudden = (cast(name, resin=resin).coats[0].figures for resin in (GRADUAL, SUDDEN))
        assert gradual.cv < sudden.cv


def test_a_fast_spin_leaves_no_film_and_lies_at_the_far_walls() -> None:
    wall = piece("horned")
    middle = measures(wall).centroid
    fast = constant(frame_rate=40.0, cradle_rate=0.0)
    thrown = forecast(
        wall, load_resin(GRADUAL), fast, (Shot(volume=1e-5),), crossing=middle, second_mesh=False
    )
    assert thrown.history == "spun"
    turned = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    gravity = GRAVITY * np.column_stack([np.zeros(16), -np.sin(turned), -np.cos(turned)])
    rates = np.tile([40.0, 0.0, 0.0], (16, 1))
    spun = spun_surface(
        wall,
        1e-5,
        potential(gravity, rates, crossing=middle),
        areas=third_areas(wall),
        reach=reach(wall.vertices, inward_normals(wall)),
    )
    arm = np.hypot(*(wall.vertices - middle)[:, 1:].T)
    held = spun.volume * third_areas(wall)
    assert np.average(arm, weights=held) > 0.85 * arm.max()
    assert spun.ratio > 1.0
    assert spun.wetted < 0.5
    assert "farthest from the axis" in spun.text


def test_a_finer_mesh_tells_figures_within_the_stated_uncertainty_and_p05_nearer_than_as_computed() -> None:
    wall = piece("blob", 4800)
    shots = (Shot(volume=COAT * area(wall)),)
    resin, middle = load_resin(GRADUAL), measures(wall).centroid
    fine = forecast(wall, resin, TURNING, shots, crossing=middle)
    told = forecast(wall, resin, TURNING, shots, crossing=middle, nodes=2400)
    for name in ("mean", "p05", "median", "p95"):
        moved = abs(getattr(fine.figures, name) - getattr(told.figures, name))
        assert moved <= getattr(told.uncertainty, name), name
    assert told.assumptions[-1] == SAID_CARRIED
    computed = quantile(told.total, told.kept_area, 0.05)
    assert fine.figures.p05 < quantile(fine.total, fine.kept_area, 0.05) < computed
    assert abs(fine.figures.p05 - told.figures.p05) < 0.5 * (computed - fine.figures.p05)
