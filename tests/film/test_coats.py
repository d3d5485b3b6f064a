"""Coats become wall: the volume between the surfaces is the coat's, folded or not, and nothing gets lost."""

from collections.abc import Callable
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from evenwall.errors import InputError, SolverError, StoppedError
from evenwall.files.mesh_file import read_mesh
from evenwall.film.coat import volumes
from evenwall.film.coats import across, bare, brushed, covered, with_coat
from evenwall.film.operators import build_wall, node_areas
from evenwall.film.rubber import carried, heat_content, new_column
from evenwall.film.state import Rubber
from evenwall.film.transfer import interpolation, third_areas, transfer
from evenwall.geometry.remesh import remesh
from evenwall.geometry.solid import area, volume
from evenwall.geometry.surface import Surface, is_closed

H = 1.5e-3


def surface_of(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def solid_of(surface: Surface) -> manifold3d.Manifold:
    return manifold3d.Manifold(manifold3d.Mesh64(surface.vertices.copy(), surface.faces.astype(np.uint64)))


@pytest.fixture(scope="module")
def torus() -> Surface:
    return surface_of(trimesh.creation.torus(0.03, 0.012, major_sections=90, minor_sections=40))


@pytest.fixture(scope="module")
def dumbbell() -> Surface:
    """Two balls joined by a rod of 2.4 mm, which a coat of 1.5 mm closes."""
    ball = manifold3d.Manifold.sphere(0.02, 64)
    rod = manifold3d.Manifold.cylinder(0.06, 0.0012, 0.0012, 24)
    mesh = (ball + rod + ball.translate((0.0, 0.0, 0.055)).scale((0.9, 0.9, 1.0))).to_mesh64()
    whole = Surface(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64))
    return remesh(whole, nodes=3000).surface


@pytest.fixture(scope="module")
def box() -> Surface:
    """A box with sharp edges: its parallel surfaces fold there."""
    return remesh(surface_of(trimesh.creation.box((0.03, 0.04, 0.05))), nodes=2500).surface


def test_where_it_does_not_fold_it_is_the_parallel_surface(torus: Surface) -> None:
    exact = 2.0 * np.pi**2 * 0.03 * (0.012**2 - (0.012 - H) ** 2)
    done = covered(torus, np.full(len(torus.vertices), H), volume=exact)
    assert not done.rebuilt
    assert done.scale == pytest.approx(1.0, abs=2e-3)
    ring = np.hypot(np.hypot(*done.surface.vertices[:, :2].T) - 0.03, done.surface.vertices[:, 2])
    assert ring == pytest.approx(np.full(len(ring), 0.012 - H), rel=2e-3)
    between = solid_of(torus) - solid_of(done.surface)  # library reference
    assert between.volume() == pytest.approx(exact, rel=1e-6)


def test_where_it_folds_it_is_rebuilt_as_the_offset(box: Surface) -> None:
    """The hollow left in a box is a box; manifold3d's volume of the solid between them (library reference)."""
    left = (0.03 - 2 * H) * (0.04 - 2 * H) * (0.05 - 2 * H)
    coat = volume(box) - left
    done = covered(box, np.full(len(box.vertices), H), volume=coat)
    assert done.rebuilt
    assert is_closed(done.surface)
    assert (solid_of(box) - solid_of(done.surface)).volume() == pytest.approx(coat, rel=5e-3)
    assert done.scale == pytest.approx(1.0, abs=2e-3)
    half = np.array([0.015, 0.02, 0.025]) - H
    distance = np.max(np.abs(done.surface.vertices) - half, axis=1)
    assert np.percentile(np.abs(distance), 95) < 0.1 * H
    assert area(done.surface) == pytest.approx(
        8 * (half[0] * half[1] + half[1] * half[2] + half[0] * half[2]), rel=0.02
    )


def test_faces_move_as_far_as_the_coat_is_thick(torus: Surface) -> None:
    box = surface_of(trimesh.creation.box((0.03, 0.04, 0.05)).subdivide().subdivide())
    met = np.isclose(np.abs(box.vertices), [0.015, 0.02, 0.025]).sum(axis=1)
    for faces in (1, 2, 3):  # inside a face, on an edge, in a corner: the diagonals of a square and a cube
        size = np.linalg.norm(across(box)[met == faces], axis=1)
        assert size == pytest.approx(np.sqrt(faces), rel=0.05)
    assert np.linalg.norm(across(torus), axis=1) == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("name", ["spot_triangulated.obj", "koala.obj"])
def test_the_film_s_law_holds_what_lies_under_each_coat(real_mesh: Callable[[str], Path], name: str) -> None:
    found = read_mesh(real_mesh(name), unit="mm").surface
    wall = remesh(Surface(found.vertices * np.sqrt(0.06 / area(found)), found.faces), nodes=1500).surface
    build = bare(wall)
    for _ in range(2):
        here = build_wall(build.surface)
        uneven = 1e-3 * (1.0 + 0.3 * np.sin(200.0 * here.x[:, 0]))
        coat = float(here.area @ volumes(here, uneven))
        build, _ = with_coat(build, uneven, volume=coat, areas_of=node_areas)
    assert build.enclosed_error < 5e-3


def test_three_coats_fill_what_lies_between_the_surfaces(box: Surface, torus: Surface) -> None:
    for wall in (box, torus):
        build = bare(wall)
        for _ in range(3):
            thickness = 1e-3 * (1.0 + 0.3 * np.sin(200.0 * build.surface.vertices[:, 0]))
            coat = 0.95 * float(third_areas(build.surface) @ thickness)
            build, _ = with_coat(build, thickness, volume=coat)
        between = (solid_of(wall) - solid_of(build.surface)).volume()  # library reference
        assert between == pytest.approx(sum(build.volumes), rel=5e-3)
        assert build.total.shape == (len(wall.vertices),)
        assert np.all((build.total > 2.0e-3) & (build.total < 4.0e-3))
        assert len(build.coats) == 3


def test_fields_and_heat_are_carried_exactly(box: Surface) -> None:
    thickness = H * (1.0 + 0.5 * np.sin(150.0 * box.vertices[:, 2]))
    done = covered(box, thickness, volume=0.9 * float(third_areas(box) @ thickness))
    old, new = third_areas(box), third_areas(done.surface)
    assert new @ (done.transfer @ thickness) == pytest.approx(old @ thickness, rel=1e-12)
    assert np.asarray(done.transfer.min()) >= 0.0
    column = new_column(Rubber(), len(old), temperature=300.0)
    column.temperature[:, 0] += 1e4 * thickness
    moved = carried(column, done.transfer)
    assert heat_content(moved, new, reference=273.0) == pytest.approx(
        heat_content(column, old, reference=273.0), rel=1e-12
    )
    assert moved.temperature.min() >= 300.0 - 1e-9
    assert moved.temperature.max() <= column.temperature.max() + 1e-9


def test_two_meshes_of_one_wall_exchange_fields() -> None:
    ball = surface_of(trimesh.creation.icosphere(subdivisions=4, radius=0.03))
    other = remesh(ball, nodes=1200).surface
    field = 1.0 + 0.5 * np.sin(100.0 * ball.vertices[:, 2])
    there = transfer(ball, other, source_areas=third_areas(ball), target_areas=third_areas(other))
    assert third_areas(other) @ (there @ field) == pytest.approx(third_areas(ball) @ field, rel=1e-12)
    assert there @ field == pytest.approx(1.0 + 0.5 * np.sin(100.0 * other.vertices[:, 2]), abs=0.03)
    assert there @ np.ones(len(field)) == pytest.approx(np.ones(len(other.vertices)), abs=0.02)
    reading = interpolation(ball, other)
    assert reading @ np.ones(len(field)) == pytest.approx(np.ones(len(other.vertices)), abs=1e-12)


def test_a_hollow_that_is_closed_off_is_counted(dumbbell: Surface) -> None:
    thickness = np.full(len(dumbbell.vertices), H)
    coat = 0.9 * float(third_areas(dumbbell) @ thickness)
    _, done = with_coat(bare(dumbbell), thickness, volume=coat)
    assert done.rebuilt
    assert done.cut_off > 5e-6
    between = (solid_of(dumbbell) - solid_of(done.surface)).volume()  # library reference
    assert between == pytest.approx(coat + done.cut_off, rel=5e-3)
    assert np.ptp(done.surface.vertices[:, 2]) < 0.042  # the larger ball alone


def test_an_uneven_coat_with_a_pool_keeps_its_volume(box: Surface) -> None:
    low = box.vertices[:, 2] < -0.02
    thickness = np.where(low, 8e-3, 5e-4)
    coat = 0.9 * float(third_areas(box) @ thickness)
    _, done = with_coat(bare(box), thickness, volume=coat)
    assert (solid_of(box) - solid_of(done.surface)).volume() == pytest.approx(coat, rel=5e-3)
    assert done.surface.vertices[:, 2].min() > -0.025 + 4e-3


def test_brush_marks_come_over_from_another_mesh(torus: Surface) -> None:
    marked = remesh(torus, nodes=800).surface
    marks = (marked.vertices[:, 0] > 0.0).astype(float)
    layer = brushed(torus, marked, marks, thickness=3e-4)
    assert layer[torus.vertices[:, 0] > 5e-3] == pytest.approx(3e-4)
    assert layer[torus.vertices[:, 0] < -5e-3] == pytest.approx(0.0)


def test_no_coat_changes_nothing(torus: Surface) -> None:
    done = covered(torus, np.zeros(len(torus.vertices)), volume=0.0)
    assert done.surface is torus


def test_nonsense_is_refused_in_a_sentence(torus: Surface) -> None:
    thickness = np.full(len(torus.vertices), H)
    with pytest.raises(InputError, match="pour less"):
        covered(torus, thickness, volume=1.0)
    with pytest.raises(SolverError, match="not a number"):
        covered(torus, thickness * np.nan, volume=1e-6)
    with pytest.raises(InputError, match="above 0"):
        brushed(torus, torus, thickness, thickness=0.0)


def test_a_trace_of_a_coat_reaches_nothing(torus: Surface) -> None:
    """Round-off at the edge of brush marks is no coat that another one could meet."""
    half = torus.vertices[:, 2] > 0.0
    thickness = np.where(half, H, 1e-17)
    done = covered(torus, thickness, volume=float(third_areas(torus) @ thickness))
    assert not done.rebuilt


def test_a_stop_is_asked_on_the_way_to_a_rebuilt_wall(box: Surface) -> None:
    asked = [0]

    def stop(after: int = 10_000) -> bool:
        asked[0] += 1
        return asked[0] > after

    coat = np.full(len(box.vertices), H)
    covered(box, coat, volume=2e-5, stop=stop)
    times, asked[0] = asked[0], 0
    assert times > 60  # 6 steps of the grid's distances, then 8 sweeps of 8 passes
    with pytest.raises(StoppedError):
        covered(box, coat, volume=2e-5, stop=lambda: stop(times // 2))
    assert asked[0] == times // 2 + 1
