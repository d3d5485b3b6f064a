"""Narrow hollows and ridges of solids whose fins, pins and grooves have a known width."""

from __future__ import annotations

from functools import cache

import manifold3d
import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.pockets import Pockets, pockets
from evenwall.geometry.remesh import remesh
from evenwall.geometry.surface import Surface, transformed

Manifold = manifold3d.Manifold
BALL = Manifold.sphere(0.02, 64)


def _wall(solid: manifold3d.Manifold, nodes: int) -> Surface:
    mesh = solid.to_mesh()
    plain = Surface(np.asarray(mesh.vert_properties[:, :3], dtype=float), np.asarray(mesh.tri_verts))
    return remesh(plain, nodes=nodes).surface


@cache
def _finned() -> tuple[Surface, Pockets]:
    fin = Manifold.cube((0.002, 0.024, 0.02)).translate((-0.001, -0.012, 0.012))
    wall = _wall(BALL + fin, 3000)
    return wall, pockets(wall)


def test_a_ball_has_no_narrow_place_and_no_ridge() -> None:
    found = pockets(_wall(BALL, 1200))
    assert found.hollows == ()
    assert found.ridges == ()


def test_a_fin_is_as_wide_as_it_is_thick_and_its_foot_is_a_ridge() -> None:
    wall, found = _finned()
    assert len(found.hollows) == 1
    fin = found.hollows[0]
    assert fin.width == pytest.approx(2.0e-3, rel=0.02)
    assert fin.depth == pytest.approx(0.012, abs=2.5e-3)
    assert fin.area == pytest.approx(wall_area_above(wall, 0.020), rel=0.15)
    assert fin.position[2] > 0.026
    assert all(place.position[2] < 0.023 for place in found.ridges)
    assert found.ridges


def wall_area_above(wall: Surface, height: float) -> float:
    corner = wall.vertices[wall.faces]
    high = corner[corner[:, :, 2].mean(axis=1) > height]
    return float(
        0.5 * np.linalg.norm(np.cross(high[:, 1] - high[:, 0], high[:, 2] - high[:, 0]), axis=1).sum()
    )


def test_a_pin_is_as_wide_as_its_bore() -> None:
    pin = Manifold.cylinder(0.025, 0.002, 0.002, 48).translate((0.0, 0.0, 0.015))
    found = pockets(_wall(BALL + pin, 3000))
    assert found.hollows[0].width == pytest.approx(4.0e-3, rel=0.03)


def test_a_wedge_narrows_towards_its_edge_as_its_angle_says() -> None:
    box = trimesh.creation.box((2.0, 0.06, 0.03))
    for _ in range(5):
        box = box.subdivide()
    vertices = np.add(box.vertices, [0.0, 0.0, 0.0165])
    half = np.deg2rad(15.0)
    vertices[:, 0] *= vertices[:, 2] * np.tan(half)
    found = pockets(Surface(vertices, np.asarray(box.faces)))
    x, y, z = np.abs(vertices).T
    from_edge = np.hypot(x, z)
    flank = (x > 0.999 * z * np.tan(half)) & (y < 0.02) & (from_edge > 4e-3) & (from_edge < 1e-2)
    assert flank.sum() > 50
    assert found.width[flank] == pytest.approx(2.0 * from_edge[flank] * np.tan(half), rel=0.02)


def test_a_groove_is_a_ridge_of_the_mold_as_thick_as_the_groove_is_wide() -> None:
    block = Manifold.cube((0.04, 0.04, 0.03), True)
    groove = Manifold.cube((0.003, 0.1, 0.010)).translate((-0.0015, -0.05, 0.005))
    found = pockets(_wall(block - groove, 4000))
    assert found.ridges[0].width == pytest.approx(3.0e-3, rel=0.02)
    assert abs(found.ridges[0].position[0]) < 2e-3


def test_nothing_changes_when_the_piece_is_turned_and_moved() -> None:
    wall, found = _finned()
    turn = Rotation.from_rotvec([0.4, -1.1, 0.7])
    moved = pockets(transformed(wall, turn.as_matrix(), shift=(0.3, -0.2, 0.1)))
    assert (moved.narrow == found.narrow).mean() > 0.999
    assert moved.hollows[0].area == pytest.approx(found.hollows[0].area, rel=0.01)
    assert turn.inv().apply(moved.hollows[0].position - [0.3, -0.2, 0.1]) == pytest.approx(
        found.hollows[0].position, abs=3e-3
    )


def test_the_ammonite_keeps_air_near_its_centre_and_is_thin_between_the_whorls() -> None:
    found = pockets(remesh(ammonite(across=0.12), nodes=6000).surface)
    assert found.hollows
    assert np.linalg.norm(found.hollows[0].position[:2]) < 0.025
    assert found.ridges[0].area > 2.0 * max(place.area for place in found.hollows)
