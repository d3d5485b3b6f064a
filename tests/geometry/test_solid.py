"""Measures of closed surfaces against general-purpose libraries, and what must not change them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.solid import measures, principal_extents
from evenwall.geometry.surface import Surface, is_closed, transformed, turned_round

PIECE = trimesh.creation.capsule(height=0.08, radius=0.02)


def _surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def test_agrees_with_trimesh_on_random_hulls() -> None:
    for seed in range(5):
        mesh = trimesh.convex.convex_hull(np.random.default_rng(seed).normal(size=(40, 3)) + 3.0)
        ours = measures(_surface(mesh))
        assert ours.area == pytest.approx(mesh.area, rel=1e-10)
        assert ours.volume == pytest.approx(mesh.volume, rel=1e-10)
        np.testing.assert_allclose(ours.centroid, mesh.center_mass, rtol=1e-9)
        np.testing.assert_allclose(ours.inertia, mesh.moment_inertia, rtol=1e-8, atol=1e-9)


def test_rotation_turns_the_inertia_and_nothing_else() -> None:
    turn = trimesh.transformations.random_rotation_matrix(np.array([0.1, 0.7, 0.4]))[:3, :3]
    plain = measures(_surface(PIECE))
    turned = measures(transformed(_surface(PIECE), turn, shift=(5.0, -7.0, 3.0)))
    assert turned.volume == pytest.approx(plain.volume, rel=1e-10)
    np.testing.assert_allclose(
        turned.inertia, turn @ plain.inertia @ turn.T, atol=1e-10 * plain.inertia.max()
    )


def test_split_faces_change_nothing_and_turned_faces_flip_the_sign() -> None:
    plain, split = measures(_surface(PIECE)), measures(_surface(PIECE.subdivide()))
    assert split.volume == pytest.approx(plain.volume, rel=1e-12)
    assert split.area == pytest.approx(plain.area, rel=1e-12)
    assert measures(turned_round(_surface(PIECE))).volume == pytest.approx(-plain.volume, rel=1e-12)


def test_ammonite_is_one_closed_body_without_handles_of_the_wanted_size() -> None:
    piece = ammonite(across=0.12)
    assert is_closed(piece)
    assert _surface_bodies(piece) == 1
    assert len(piece.vertices) - len(piece.faces) // 2 == 2
    assert measures(piece).volume > 0.0
    assert measures(piece).extents.max() == pytest.approx(0.12)
    assert principal_extents(piece)[0] > 2.5 * principal_extents(piece)[2]


def _surface_bodies(surface: Surface) -> int:
    return int(trimesh.Trimesh(surface.vertices, surface.faces, process=False).body_count)
