"""The remeshed wall: closed, outward, even, and as large as its source says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from evenwall.errors import MeshError
from evenwall.files.mesh_file import read_mesh
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.halfedge import half_edges_of, surface_of
from evenwall.geometry.parts import TURNS
from evenwall.geometry.remesh import TOGETHER, Remeshed, in_order, qualities, remesh
from evenwall.geometry.solid import volume
from evenwall.geometry.surface import Surface, edges, is_closed
from evenwall.geometry.tidy import remove_peaks

SHAPES = {
    "sphere": trimesh.creation.icosphere(4, 0.05),
    "torus": trimesh.creation.torus(0.05, 0.01, 64, 32),
    "cube of twelve faces": trimesh.creation.box((0.1, 0.1, 0.1)),
}
THIN = {
    "plate": trimesh.creation.box((0.1, 0.1, 0.002)),
    "spike": trimesh.creation.cone(0.004, 0.1),
}


def _surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def _euler(surface: Surface) -> int:
    return len(surface.vertices) - len(surface.faces) // 2


def _sound(result: Remeshed, source: Surface, nodes: int) -> None:
    assert is_closed(result.surface)
    assert abs(len(result.surface.vertices) / nodes - 1.0) < 0.05
    assert _euler(result.surface) == _euler(source)
    assert abs(result.volume_change) < 0.005


@pytest.mark.parametrize("name", SHAPES)
def test_keeps_volume_area_and_handles_of_plain_shapes(name: str) -> None:
    source = _surface(SHAPES[name])
    result = remesh(source, nodes=1500)
    _sound(result, source, 1500)
    assert abs(result.area_change) < 0.02
    assert qualities(result.surface).min() > 0.3


@pytest.mark.parametrize("name", THIN)
def test_keeps_rims_and_tips_of_parts_thinner_than_an_edge(name: str) -> None:
    source = _surface(THIN[name])
    result = remesh(source, nodes=2500)
    _sound(result, source, 2500)
    assert result.lost_max < 1.5 * result.edge


def test_loses_less_of_the_crevices_with_more_nodes() -> None:
    source = ammonite()
    coarse, fine = remesh(source, nodes=1500), remesh(source, nodes=6000)
    _sound(fine, source, 6000)
    assert fine.lost_p95 < 0.5 * coarse.lost_p95


def test_the_same_input_gives_the_same_wall() -> None:
    source = _surface(SHAPES["torus"])
    first, second = remesh(source, nodes=800), remesh(source, nodes=800)
    assert np.array_equal(first.surface.vertices, second.surface.vertices)
    assert np.array_equal(first.surface.faces, second.surface.faces)


def test_refuses_an_open_surface_and_too_few_nodes() -> None:
    source = _surface(SHAPES["sphere"])
    with pytest.raises(MeshError, match="no partner"):
        remesh(Surface(source.vertices, source.faces[1:]), nodes=500)
    with pytest.raises(MeshError, match="at least 50"):
        remesh(source, nodes=10)


def test_long_slivers_on_flat_faces_leave_no_fold() -> None:
    box = trimesh.creation.box((0.06, 0.06, 0.03))
    found = remesh(Surface(np.asarray(box.vertices), np.asarray(box.faces)), nodes=2000)
    assert found.least_quality > 0.3
    assert found.area_change == pytest.approx(0.0, abs=2e-3)


def test_corners_that_meet_in_a_crease_are_merged(real_mesh: Callable[[str], Path]) -> None:
    # edges of nothing make cells of nothing, on which no step of a film is short enough
    surface = read_mesh(real_mesh("spot_triangulated.obj"), unit="mm").surface
    wall = remesh(surface, nodes=10_000).surface
    corner = wall.vertices[wall.faces]
    length = np.linalg.norm(corner - corner[:, [1, 2, 0]], axis=2)
    assert length.min() > 0.02 * np.median(length)


@pytest.mark.parametrize(("height", "stays"), [(0.0, False), (0.5, False), (3.0, True)])
def test_a_vertex_of_three_edges_goes_unless_it_is_a_tip(height: float, stays: bool) -> None:
    # as a node it is passed by: one of them cost two thirds of a coat's steps
    ball = _surface(trimesh.creation.icosphere(3, 0.05))
    a, b, c = ball.vertices[ball.faces[0]]
    normal = np.cross(b - a, c - a)
    edge = float(np.linalg.norm(b - a))
    peak = (a + b + c) / 3.0 + height * edge * normal / np.linalg.norm(normal)
    i, j, k = ball.faces[0]
    n = len(ball.vertices)
    faces = np.vstack([ball.faces[1:], [[i, j, n], [j, k, n], [k, i, n]]])
    mesh = half_edges_of(Surface(np.vstack([ball.vertices, peak]), faces), vertex_room=0, face_room=0)
    assert remove_peaks(mesh, edge) == (0 if stays else 1)
    left = surface_of(mesh)
    assert is_closed(left)
    assert len(left.vertices) == n + stays
    if not stays:
        assert volume(left) == pytest.approx(volume(ball), rel=1e-12)


def test_an_even_wall_has_no_vertex_of_three_edges(real_mesh: Callable[[str], Path]) -> None:
    surface = read_mesh(real_mesh("koala.obj"), unit="mm").surface
    wall = remesh(surface, nodes=2500).surface
    assert np.bincount(wall.faces.ravel()).min() > 3


def test_neighbours_get_numbers_near_each_other_and_nothing_else_changes() -> None:
    ball, random = _surface(SHAPES["sphere"]), np.random.default_rng(1)
    n = len(ball.vertices)
    mixed = random.permutation(n)
    shuffled = Surface(ball.vertices[np.argsort(mixed)], random.permutation(mixed[ball.faces]))
    ordered = in_order(shuffled)
    one, other = edges(ordered)[0].T
    assert np.median(np.abs(one - other)) < 2 * TOGETHER
    assert volume(ordered) == pytest.approx(volume(ball), rel=1e-12)
    assert is_closed(ordered)
    as_points = [sorted(map(tuple, np.round(s.vertices[s.faces].mean(axis=1), 9))) for s in (ball, ordered)]
    assert as_points[0] == as_points[1]
    middle = ball.vertices.mean(axis=0)
    for quarter in np.array_split(ordered.vertices, TURNS):
        assert np.abs(quarter.mean(axis=0) - middle).max() < 0.1 * np.ptp(ball.vertices)
