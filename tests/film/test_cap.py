"""A ball with a cut base whose skin is trimmed off: the figures leave the base out, the liquid does not."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.files.resin_file import load_resin
from evenwall.film.cap import COUNTED, LEFT_OUT, kept_areas, said_of_cap
from evenwall.film.findings import averaging, dry_fraction, dry_places, figures, thin_places, unevenness
from evenwall.film.operators import inward_normals, node_areas
from evenwall.film.run import forecast
from evenwall.film.state import Cap, Closing, FilmForecast, Floats, Shot
from evenwall.geometry.remesh import evened
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

RADIUS = 0.04
CUT = -0.5 * RADIUS  # height of the base
# area of a spherical zone, 2 pi R h: Archimedes, On the Sphere and Cylinder I, 42-43; of the disc that cuts it
ZONE = 2.0 * np.pi * RADIUS * 1.5 * RADIUS
DISC = np.pi * (RADIUS**2 - CUT**2)


@pytest.fixture(scope="module")
def cut() -> Surface:
    whole = ball(RADIUS, rounds=4)
    flat = whole.vertices.copy()
    flat[:, 2] = np.maximum(flat[:, 2], CUT)
    return Surface(flat, whole.faces)


@pytest.fixture(scope="module")
def trimmed(cut: Surface) -> Closing:
    base = np.flatnonzero((cut.vertices[cut.faces, 2] == CUT).all(axis=1))
    return Closing(opening=DISC, cap=Cap(wall=cut, faces=base), comes_off=True)


def thin_base(wall: Surface) -> tuple[Floats, Floats]:
    """2 mm on the ball, 0.02 mm on its base, and the node areas."""
    return np.where(wall.vertices[:, 2] < CUT + 1e-4, 2e-5, 2e-3), node_areas(wall)


@pytest.mark.parametrize("nodes", [None, 900])
def test_what_is_kept_is_the_zone_of_the_ball_on_any_mesh(
    cut: Surface, trimmed: Closing, nodes: int | None
) -> None:
    wall = cut if nodes is None else evened(cut, nodes=nodes)
    areas = node_areas(wall)
    kept = kept_areas(wall, areas, trimmed)
    assert kept.sum() == pytest.approx(ZONE, rel=0.02)
    assert areas.sum() - kept.sum() == pytest.approx(DISC, rel=0.1)
    inner = Surface(wall.vertices + 2e-3 * inward_normals(wall), wall.faces)  # as the next coat finds it
    assert kept_areas(inner, areas, trimmed).sum() == pytest.approx(kept.sum(), rel=0.05)


def test_figures_and_findings_with_and_without_the_base(cut: Surface, trimmed: Closing) -> None:
    thickness, areas = thin_base(cut)
    whole = figures(thickness, areas, averaging(cut.vertices, inward_normals(cut), areas))
    share = areas[thickness < 1e-3].sum() / areas.sum()
    assert whole.mean == pytest.approx(2e-3 * (1.0 - share) + 2e-5 * share)
    assert (whole.p05, whole.least) == pytest.approx((2e-5, 2e-5))
    assert whole.cv > 0.4
    assert dry_places(cut, thickness, areas)
    assert unevenness(cut, thickness, areas, whole)

    kept = kept_areas(cut, areas, trimmed)
    thickness = np.where(kept > 0.0, 2e-3, thickness)  # the rim stands for both sides
    patches = averaging(cut.vertices, inward_normals(cut), kept)
    wall = figures(thickness, kept, patches)
    assert (wall.mean, wall.p05, wall.least) == pytest.approx((2e-3, 2e-3, 2e-3))
    assert wall.cv < 1e-9
    assert dry_fraction(thickness, kept) == 0.0
    assert thin_places(cut, thickness, kept, patches, least=1.9e-3) == ()
    assert dry_places(cut, thickness, kept) == ()
    assert unevenness(cut, thickness, kept, wall) == ()


def run(wall: Surface, closing: Closing) -> FilmForecast:
    shot = Shot(volume=1.5e-3 * (ZONE + DISC), temperature=295.15, pour_after=90.0)
    return forecast(
        wall,
        load_resin("museum-gradual"),
        constant(frame_rate=1.05, cradle_rate=0.65),
        (shot,),
        closing=closing,
        least=1e-3,
        nodes=400,
        second_mesh=False,
    )


def test_a_forecast_keeps_all_liquid_and_figures_what_stays(cut: Surface, trimmed: Closing) -> None:
    counted = run(cut, Closing(opening=DISC, comes_off=True))
    masked = run(cut, trimmed)
    assert np.array_equal(counted.total, masked.total)
    assert masked.volume_error == counted.volume_error < 1e-10
    assert masked.enclosed_error == counted.enclosed_error
    stays = masked.kept_area > 0.0
    assert 0.7 < stays.mean() < 0.9
    for done, area in ((counted, counted.node_area), (masked, masked.kept_area)):
        mean = np.average(done.total, weights=area)  # over the wall that counts, by hand
        assert done.figures.mean == pytest.approx(mean)
        assert done.figures.cv == pytest.approx(
            np.sqrt(np.average((done.total / mean - 1.0) ** 2, weights=area))
        )
    assert masked.coats[0].figures.mean == pytest.approx(masked.figures.mean, rel=1e-6)
    assert masked.figures.mean != pytest.approx(counted.figures.mean, rel=1e-3)
    assert LEFT_OUT in masked.assumptions
    assert COUNTED in counted.assumptions
    assert said_of_cap(Closing(opening=DISC, cap=trimmed.cap)) == ()
