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
from evenwall.geometry.remesh import Remeshed, qualities, remesh
from evenwall.geometry.surface import Surface, is_closed

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
