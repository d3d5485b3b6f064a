"""Figures weigh areas, agree between meshes, and name places; the words have the numbers that are stated."""

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from evenwall.film import findings
from evenwall.film.findings import (
    averaging,
    dripped,
    figures,
    pool_fraction,
    pools,
    quantile,
    sagged,
    thin_places,
)
from evenwall.geometry.surface import Surface

RADIUS = 0.03


class Ball:
    """A sphere's wall seen from inside, with what findings need of it."""

    def __init__(self, level: int) -> None:
        mesh = trimesh.creation.icosphere(subdivisions=level, radius=RADIUS)
        self.surface = Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))
        self.normals = -self.surface.vertices / RADIUS
        corner = np.repeat(mesh.area_faces / 3.0, 3)
        self.areas = np.bincount(mesh.faces.ravel(), corner)
        self.patches = averaging(self.surface.vertices, self.normals, self.areas)
        self.z = self.surface.vertices[:, 2] / RADIUS

    def bump(self, width: float) -> NDArray[np.float64]:
        """1 at the top, falling off over `width` [m]."""
        top = np.array([0.0, 0.0, RADIUS])
        return np.asarray(np.exp(-np.sum((self.surface.vertices - top) ** 2, axis=1) / width**2))


@pytest.fixture(scope="module")
def balls() -> tuple[Ball, Ball]:
    return Ball(4), Ball(5)


def test_patches_average_over_25_mm2(balls: tuple[Ball, Ball]) -> None:
    for ball in balls:
        assert np.allclose(ball.patches @ np.ones(len(ball.areas)), 1.0, atol=1e-12)
        sizes = (ball.patches > 0).astype(float) @ ball.areas
        assert np.all(sizes >= 2.5e-5 * (1 - 1e-9))
        assert np.all(sizes <= 2.5e-5 + 2.0 * ball.areas.max())


def test_figures_agree_between_meshes_and_with_the_sphere(balls: tuple[Ball, Ball]) -> None:
    """h = 1 + z/2 on a sphere is evenly spread from 0.5 to 1.5 (Archimedes: area is even in z)."""
    for ball in balls:
        wall = figures(1e-3 * (1.0 + 0.5 * ball.z), ball.areas, ball.patches)
        assert wall.mean == pytest.approx(1.0e-3, rel=1e-3)
        assert wall.p05 == pytest.approx(0.55e-3, rel=5e-3)
        assert wall.median == pytest.approx(1.0e-3, rel=5e-3)
        assert wall.p95 == pytest.approx(1.45e-3, rel=5e-3)
        assert wall.cv == pytest.approx(0.5 / np.sqrt(3.0), rel=5e-3)
    coarse, fine = (figures(1e-3 * (1.0 - 0.6 * b.bump(0.002)), b.areas, b.patches) for b in balls)
    assert coarse.least == pytest.approx(fine.least, rel=0.04)
    assert fine.least > 0.55e-3  # the bare minimum is 0.4


def test_quantile_does_not_count_nodes() -> None:
    values, areas = np.array([1.0, 2.0, 3.0]), np.array([98.0, 1.0, 1.0])
    assert quantile(values, areas, 0.45) < 1.01


def test_the_other_side_of_a_thin_place_is_left_out() -> None:
    grid = np.linspace(0.0, 0.02, 21)
    x, y = (part.ravel() for part in np.meshgrid(grid, grid))
    sheet = np.stack([x, y, np.zeros_like(x)], axis=1)
    both = np.concatenate([sheet, sheet + np.array([0.0, 0.0, 5e-4])])
    normals = np.concatenate([np.tile([0.0, 0.0, -1.0], (len(x), 1)), np.tile([0.0, 0.0, 1.0], (len(x), 1))])
    patches = averaging(both, normals, np.full(2 * len(x), 1e-6))
    thickness = np.concatenate([np.full(len(x), 1e-3), np.full(len(x), 3e-3)])
    assert np.allclose(patches @ thickness, thickness, rtol=1e-12)


def test_a_pool_is_thick_and_holds_over_a_fiftieth(balls: tuple[Ball, Ball]) -> None:
    for ball in balls:
        thin = np.full(len(ball.areas), 8e-4)
        pool = thin + 9e-3 * ball.bump(0.01)
        shot = float((pool * ball.areas).sum())
        found = pools(ball.surface, pool, pool, ball.areas, shot=shot)
        assert [one.kind for one in found] == ["pool"]
        assert found[0].at[2] == pytest.approx(RADIUS, rel=0.01)
        assert found[0].amount == pytest.approx(9.8e-3, rel=0.01)
        assert pool_fraction(pool, pool, ball.areas, mean=shot / ball.areas.sum()) > 0.02
        gelled = pools(ball.surface, pool, pool, ball.areas, shot=shot, gelled=pool > 5e-3)
        assert [one.kind for one in gelled] == ["lump"]
        still_liquid = pools(ball.surface, pool, pool, ball.areas, shot=shot, gelled=pool < 5e-3)
        assert [one.kind for one in still_liquid] == ["pool"]
        drop = thin + 9e-3 * ball.bump(0.0015)
        assert pools(ball.surface, drop, drop, ball.areas, shot=float((drop * ball.areas).sum())) == ()


def test_two_thin_places_are_two(balls: tuple[Ball, Ball]) -> None:
    for ball in balls:
        dip = np.exp(-((np.abs(ball.z) - 1.0) ** 2) / 0.01)
        thickness = 3e-3 * (1.0 - 0.5 * dip)
        found = thin_places(ball.surface, thickness, ball.areas, ball.patches, least=2.2e-3)
        assert sorted(np.sign(one.at[2]) for one in found) == [-1.0, 1.0]
        assert all(one.kind == "thin" and 1.5e-3 < one.amount < 2.2e-3 for one in found)
        assert not thin_places(ball.surface, thickness, ball.areas, ball.patches, least=1.0e-3)


def test_dry_hot_sag_and_uneven(balls: tuple[Ball, Ball]) -> None:
    ball = balls[0]
    even = np.full(len(ball.areas), 1e-3)
    bare = np.where(ball.z > 0.9, 0.0, even)
    assert findings.dry_fraction(bare, ball.areas) == pytest.approx(0.05, abs=0.006)  # a cap of height 0.1 R
    assert [one.kind for one in findings.dry_places(ball.surface, bare, ball.areas)] == ["dry"]
    assert findings.dry_places(ball.surface, even, ball.areas) == ()
    moved = even * (1.0 + 0.3 * ball.bump(0.01))
    assert [one.kind for one in sagged(ball.surface, even, moved, ball.areas, ball.patches)] == ["sag"]
    little = even * (1.0 + 0.15 * ball.bump(0.01))
    assert sagged(ball.surface, even, little, ball.areas, ball.patches) == ()
    heat = 320.0 + 60.0 * ball.bump(0.01)
    hot = findings.hot_places(ball.surface, heat, even, ball.areas, limit=370.0, of="rubber")
    assert [one.kind for one in hot] == ["hot"]
    assert hot[0].amount == pytest.approx(380.0, abs=1.0)
    spread = 1e-3 * (1.0 + 0.9 * ball.z)
    wall = figures(spread, ball.areas, ball.patches)
    assert [one.kind for one in findings.unevenness(ball.surface, spread, ball.areas, wall)] == ["uneven"]
    wall = figures(even, ball.areas, ball.patches)
    assert findings.unevenness(ball.surface, even, ball.areas, wall) == ()


def test_liquid_that_fell_is_told_where_it_is_much(balls: tuple[Ball, Ball]) -> None:
    ball = balls[0]
    fallen = np.where(ball.z > 0.8, 2e-3, 0.0)
    whole = float(ball.areas @ fallen)
    found = dripped(ball.surface, fallen, ball.areas, shot=10.0 * whole)
    assert [one.kind for one in found] == ["drop"]
    assert found[0].amount == pytest.approx(2e-3)
    assert not dripped(ball.surface, fallen, ball.areas, shot=100.0 * whole)
