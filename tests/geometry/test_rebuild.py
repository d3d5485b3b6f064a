"""Walls built anew from skins that can't be mended, and the winding numbers behind them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from evenwall.errors import MeshError
from evenwall.geometry import rebuild
from evenwall.geometry.mend import mend
from evenwall.geometry.mended import Choices
from evenwall.geometry.rebuild import facing_out, rebuilt
from evenwall.geometry.repair import REBUILD
from evenwall.geometry.solid import measures
from evenwall.geometry.surface import Surface, is_closed, joined, transformed
from evenwall.geometry.tree import tree_of
from evenwall.geometry.winding import far_fields, winding, winding_numbers


def _surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


BALL = _surface(trimesh.creation.icosphere(4, 0.04))
VOLUME, AREA = measures(BALL).volume, measures(BALL).area
TORUS = _surface(trimesh.creation.torus(0.04, 0.012, 64, 32))


def _loose(surface: Surface) -> Surface:
    """Every triangle with vertices of its own."""
    corner = surface.vertices[surface.faces]
    return Surface(corner.reshape(-1, 3), np.arange(3 * len(corner)).reshape(-1, 3))


def test_far_fields_count_as_the_triangles_do() -> None:
    rng = np.random.default_rng(2)
    gone = Surface(BALL.vertices, BALL.faces[rng.random(len(BALL.faces)) > 0.3])
    tree = tree_of(gone)
    points = rng.uniform(-0.06, 0.06, (200, 3))
    got = winding_numbers(tree, far_fields(tree), points)
    assert np.abs(got - [winding(gone, p) for p in points]).max() < 0.01


@pytest.mark.parametrize("source", [BALL, TORUS], ids=["ball", "torus"])
def test_a_good_skin_comes_back_with_its_size(source: Surface) -> None:
    got = rebuilt(source, spacing=1.5e-3)
    assert is_closed(got.surface)
    assert measures(got.surface).volume == pytest.approx(measures(source).volume, rel=5e-3)
    assert measures(got.surface).area == pytest.approx(measures(source).area, rel=2e-2)
    assert not got.closed_over.any()
    assert got.lost_p95 < 0.2 * got.spacing


def test_a_finer_grid_comes_nearer_to_the_skin() -> None:
    coarse, fine = rebuilt(TORUS, spacing=3e-3), rebuilt(TORUS, spacing=1.5e-3)
    wanted = measures(TORUS).volume
    assert abs(measures(fine.surface).volume - wanted) < 0.5 * abs(measures(coarse.surface).volume - wanted)


def test_loose_triangles_with_gaps_become_a_closed_wall() -> None:
    rng = np.random.default_rng(4)
    soup = _loose(Surface(BALL.vertices, BALL.faces[rng.random(len(BALL.faces)) > 0.15]))
    got = rebuilt(
        Surface(soup.vertices + rng.normal(0.0, 5e-5, soup.vertices.shape), soup.faces), spacing=1.5e-3
    )
    assert is_closed(got.surface)
    assert measures(got.surface).volume == pytest.approx(VOLUME, rel=1e-2)


def test_a_flat_rim_is_closed_flat() -> None:
    half = Surface(BALL.vertices, BALL.faces[(BALL.vertices[BALL.faces][:, :, 2] > -1e-9).all(axis=1)])
    got = rebuilt(half, spacing=1.5e-3)
    low = got.surface.vertices[:, 2].min()
    assert low == pytest.approx(0.0, abs=1.5e-3)
    cap = (
        np.linalg.norm(
            trimesh.triangles.cross(got.surface.vertices[got.surface.faces[got.closed_over]]), axis=1
        ).sum()
        / 2
    )
    assert cap == pytest.approx(np.pi * 0.04**2, rel=0.15)


def test_patches_that_look_inwards_are_turned() -> None:
    faces = BALL.faces.copy()
    upper = BALL.vertices[faces].mean(axis=1)[:, 2] > 0.0
    faces[upper] = faces[upper][:, ::-1]
    apart = _loose(Surface(BALL.vertices, faces))
    assert np.array_equal(facing_out(apart, upper.astype(np.int64)), upper)


def test_nothing_enclosed_is_refused() -> None:
    sheet = Surface(
        np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0.0]]), np.array([[0, 1, 2], [0, 2, 3]])
    )
    with pytest.raises(MeshError, match="encloses nothing"):
        rebuilt(sheet, spacing=0.05)
    tangle = np.random.default_rng(0).uniform(0.0, 0.1, (3 * 3000, 3))
    with pytest.raises(MeshError, match="tangle"):
        mend(Surface(tangle, np.arange(len(tangle)).reshape(-1, 3)))


def _bridged_balls() -> Surface:
    """Two balls, centres one radius apart, joined by a tube through their overlap: one skin that crosses itself."""
    other = transformed(BALL, np.eye(3), shift=(0.04, 0.0, 0.0))
    middles = BALL.vertices[BALL.faces].mean(axis=1)
    one, two = int(np.argmax(middles[:, 0])), int(np.argmin(middles[:, 0]))
    (a, b, c), (d, e, f) = BALL.faces[one], other.faces[two] + len(BALL.vertices)
    tube = np.array([[a, b, f], [a, f, d], [b, c, e], [b, e, f], [c, a, d], [c, d, e]])
    both = joined((BALL, other))
    keep = np.ones(len(both.faces), dtype=bool)
    keep[[one, two + len(BALL.faces)]] = False
    return Surface(both.vertices, np.concatenate([both.faces[keep], tube]))


def test_a_skin_that_crosses_itself_is_built_anew_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rebuild, "NODES", 4000)
    skin = _bridged_balls()
    got = mend(skin)
    assert got.closed
    assert got.anew is not None
    assert "crosses itself" in got.anew.why
    assert got.repairs[-1].name == REBUILD
    # the lens of two such balls is 5/12 pi r^3 (MathWorld, Sphere-Sphere Intersection), so the union 9/4 pi r^3
    assert measures(got.surface).volume == pytest.approx(2.25 * np.pi * 0.04**3, rel=1e-2)
    kept = mend(skin, Choices(refused=frozenset({REBUILD})))
    assert kept.anew is None
    assert kept.crossing is not None


def test_halves_that_face_each_other_are_joined_unless_told_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(rebuild, "NODES", 4000)
    up = np.array([0.0, 0.0, 1e-3])
    z = BALL.vertices[BALL.faces].mean(axis=1)[:, 2]
    upper = Surface(BALL.vertices + up, BALL.faces[z > 2e-3])
    lower = Surface(BALL.vertices - up, BALL.faces[z < -2e-3])
    got = mend(joined((upper, lower)))
    assert got.halves is not None
    assert got.halves.joined
    assert not got.openings
    assert measures(got.surface).volume == pytest.approx(VOLUME * 1.04, rel=2e-2)
    apart = mend(joined((upper, lower)), Choices(halves="separate"))
    assert measures(apart.surface).volume < 0.6 * VOLUME


def test_skins_that_lie_on_each_other_are_found_and_made_one() -> None:
    block = trimesh.creation.box((0.04, 0.04, 0.04))
    beside = transformed(
        _surface(trimesh.creation.box((0.04, 0.02, 0.02))), np.eye(3), shift=(0.04, 0.0, 0.0)
    )
    got = mend(joined((_surface(block), beside)))
    assert got.crossing is not None
    assert got.crossing.united
    assert measures(got.surface).volume == pytest.approx(0.04**3 + 0.04 * 0.02**2, rel=1e-6)
    # the same ball twice, from other triangles: one ball
    finer = _surface(trimesh.creation.box((0.04, 0.04, 0.04)).subdivide())
    twice = mend(joined((_surface(block), finer)))
    assert measures(twice.surface).volume == pytest.approx(0.04**3, rel=1e-6)
    assert measures(twice.surface).area == pytest.approx(6 * 0.04**2, rel=1e-6)


def test_flat_fillings_tell_what_the_true_skin_may_hold() -> None:
    for face in (0, 400):
        ring = np.linalg.norm(
            BALL.vertices[BALL.faces].mean(axis=1) - BALL.vertices[BALL.faces[face, 0]], axis=1
        )
        got = mend(Surface(BALL.vertices, BALL.faces[ring > 5e-3]))
        missing = VOLUME - measures(got.surface).volume
        assert missing > 0.0
        assert 0.7 < got.fill_volume[1] / missing < 2.0  # a few faces across: the rim's lean is coarse
        assert got.fill_volume[0] == 0.0


def test_an_opening_of_a_wall_built_anew_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rebuild, "NODES", 4000)
    z = BALL.vertices[BALL.faces].mean(axis=1)[:, 2]
    got = mend(Surface(BALL.vertices, BALL.faces[z > -0.03]), Choices(rebuild="always"))
    assert got.anew is not None
    assert len(got.openings) == 1
    assert got.openings[0].normal[2] < -0.9
    assert got.openings[0].area == pytest.approx(np.pi * (0.04**2 - 0.03**2), rel=0.25)
