"""Finite volumes on the wall: areas, exactness on planes, curvature of known walls."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from evenwall.errors import MeshError
from evenwall.film.operators import Wall, build_wall, inward_normals, node_areas
from evenwall.film.reach import reach
from evenwall.geometry.curvature import curvatures
from evenwall.geometry.solid import volume
from evenwall.geometry.surface import Surface, face_areas
from evenwall.proof.shapes import ball, plate, tube


def spread(wall: Wall, field: np.ndarray) -> np.ndarray:
    """Sum of w (u_j - u_i) over every node's edges, divided by its area."""
    n = len(wall.area)
    across = wall.weight * (field[wall.head] - field[wall.tail])
    return (np.bincount(wall.tail, across, n) - np.bincount(wall.head, across, n)) / wall.area


def test_areas_sum_to_the_surface() -> None:
    for surface in (ball(0.05, rounds=3), plate(0.1, 4e-3), tube(0.05, 60)):
        assert node_areas(surface).sum() == pytest.approx(face_areas(surface).sum(), rel=1e-12)


def test_flat_wall_is_exact_for_linear_and_round_potentials() -> None:
    wall = build_wall(plate(0.1, 4e-3, rows=12), curved=False)
    inner = (wall.x[:, 0] > 5e-3) & (wall.x[:, 0] < 0.038) & (wall.x[:, 1] > 5e-3) & (wall.x[:, 1] < 0.095)
    assert np.abs(spread(wall, wall.x[:, 1])[inner]).max() < 1e-9
    round_one = spread(wall, 0.5 * (wall.x**2).sum(axis=1))[inner]
    assert np.allclose(round_one, 2.0, rtol=1e-6)


def test_upwind_point_continues_a_straight_field() -> None:
    wall = build_wall(plate(0.1, 4e-3, rows=12), curved=False)
    field = 3.0 * wall.x[:, 0] - 2.0 * wall.x[:, 1]
    s, t = wall.span[:, 0], wall.span[:, 1]
    run = field[wall.tail] * (s + t) - s * field[wall.upwind[:, 0]] - t * field[wall.upwind[:, 1]]
    found = s + t > 0.0
    assert found.mean() > 0.6
    assert np.allclose(run[found], (field[wall.head] - field[wall.tail])[found], atol=1e-12)


def test_curvature_of_a_ball_is_positive_from_inside() -> None:
    for rounds in (3, 4):
        found = curvatures(ball(0.05, rounds=rounds), scale=5e-3)
        assert np.median(found.mean) * 0.05 == pytest.approx(1.0, rel=0.01)
        assert np.median(found.gauss) * 0.05**2 == pytest.approx(1.0, rel=0.01)
    outside = Surface(ball(0.05, rounds=3).vertices, ball(0.05, rounds=3).faces[:, ::-1])
    assert np.median(curvatures(outside, scale=5e-3).mean) < 0.0


def test_curvatures_give_the_volume_under_a_parallel_surface() -> None:
    # Steiner's formula: the shell between a convex wall and its inner parallel surface
    surface = ball(0.05, rounds=4)
    wall = build_wall(surface)
    h = 3e-3
    shell = float(wall.area @ (h - wall.mean * h**2 + wall.gauss * h**3 / 3.0))
    inner = Surface(surface.vertices + h * wall.normal, surface.faces)
    assert shell == pytest.approx(volume(surface) - volume(inner), rel=2e-3)


def test_total_gauss_curvature_is_four_pi() -> None:
    # Gauss-Bonnet for a closed surface without handles
    surface = ball(0.03, rounds=3)
    third = np.bincount(surface.faces.ravel(), np.repeat(face_areas(surface) / 3.0, 3))
    assert third @ curvatures(surface, scale=4e-3).gauss == pytest.approx(4.0 * np.pi, rel=1e-3)


def test_turned_and_renumbered_walls_are_the_same_wall() -> None:
    surface = ball(0.05, rounds=2)
    turn = Rotation.from_euler("xyz", [0.3, -1.1, 2.0]).as_matrix()
    order = np.random.default_rng(3).permutation(len(surface.vertices))
    back = np.argsort(order)
    other = build_wall(Surface(surface.vertices[order] @ turn.T, back[surface.faces]))
    first = build_wall(surface)
    assert np.allclose(other.area[back], first.area, rtol=1e-9)
    assert np.allclose(other.mean[back], first.mean, rtol=1e-6)


def test_too_few_nodes_are_refused() -> None:
    triangle = Surface(np.eye(3), np.array([[0, 1, 2]]))
    with pytest.raises(MeshError, match="at least 4"):
        build_wall(triangle)


def test_balls_may_begin_small_without_ending_otherwise() -> None:
    sphere = ball(0.05, rounds=3)
    flat = Surface(sphere.vertices * [1.0, 1.0, 0.3], sphere.faces)
    normal = inward_normals(flat)
    whole = reach(flat.vertices, normal)
    assert whole.min() < 0.01 < whole.max()
    assert np.array_equal(reach(flat.vertices, normal, most=0.01), np.minimum(whole, 0.01))
