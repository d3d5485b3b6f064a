"""Edge lengths over a wall: shorter along its ridges, as they are everywhere else."""

from __future__ import annotations

import manifold3d
import numpy as np
import trimesh

from evenwall.geometry.remesh import qualities, remesh
from evenwall.geometry.sizing import FLAT, GROWTH, SHARP, sizing
from evenwall.geometry.surface import Surface, edges, is_closed

NODES = 2000


def _lobes() -> Surface:
    """Two balls of 30 mm that meet in a crease of the piece, a sharp ridge of its mold, at x = 20 mm."""
    ball = manifold3d.Manifold.sphere(0.03, 96)
    mesh = (ball + ball.translate((0.04, 0.0, 0.0))).to_mesh64()
    return Surface(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64))


def _edges(wall: Surface) -> tuple[np.ndarray, np.ndarray]:
    """Middles (k, 3) and lengths (k,) of a wall's edges [m]."""
    pair, _ = edges(wall)
    one, other = wall.vertices[pair[:, 0]], wall.vertices[pair[:, 1]]
    return 0.5 * (one + other), np.linalg.norm(one - other, axis=1)


def test_a_ball_and_the_outer_edges_of_a_box_are_no_ridges() -> None:
    for mesh in (trimesh.creation.icosphere(4, 0.03), trimesh.creation.box((0.06, 0.05, 0.04))):
        wall = Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))
        assert sizing(wall, nodes=NODES).share.min() > 0.95


def test_edges_are_shorter_on_a_ridge_by_the_root_of_its_radius() -> None:
    source = _lobes()
    done = remesh(source, nodes=NODES)
    middle, length = _edges(done.surface)
    off = np.abs(middle[:, 0] - 0.02)
    least = np.sqrt(SHARP / FLAT)
    assert np.median(length[off < 1e-3]) < 1.5 * least * np.median(length[off > 0.025])
    assert is_closed(done.surface)
    assert abs(len(done.surface.vertices) / NODES - 1.0) < 0.05
    assert qualities(done.surface).min() > 0.3
    assert abs(done.area_change) < 0.005


def test_lengths_grow_slowly_away_from_a_ridge() -> None:
    lengths = sizing(_lobes(), nodes=NODES)
    points = lengths.tree.data
    near, other = lengths.tree.query(points, k=2)
    assert np.all(np.abs(lengths.share - lengths.share[other[:, 1]]) <= GROWTH * near[:, 1] + 1e-9)


def test_without_ridges_all_edges_are_alike() -> None:
    even = remesh(_lobes(), nodes=NODES, ridges=False)
    middle, length = _edges(even.surface)
    close = np.abs(middle[:, 0] - 0.02) < 2e-3
    assert np.median(length[close]) > 0.8 * np.median(length[~close])
