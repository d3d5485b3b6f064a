"""A pool at rest: the same from any side, and what a solid-modelling library cuts."""

from collections.abc import Callable
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from evenwall.errors import InputError
from evenwall.files.mesh_file import read_mesh
from evenwall.film.level import pool
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.surface import Surface, transformed

DOWNS = ((0.0, 0.0, -1.0), (1.0, 0.2, 0.1), (-0.3, 0.8, 0.5))


@pytest.fixture(scope="module")
def horned() -> Surface:
    body = manifold3d.Manifold.sphere(0.03, 48)
    horn = manifold3d.Manifold.cylinder(0.04, 0.008, 0.004, 32).rotate((0.0, 40.0, 0.0))
    mesh = (body + horn.translate((0.015, 0.0, 0.015)) + horn.translate((-0.02, 0.0, 0.0))).to_mesh64()
    return Surface(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64))


@pytest.fixture(scope="module")
def shell() -> Surface:
    return ammonite()


@pytest.mark.parametrize("down", DOWNS)
@pytest.mark.parametrize("piece", ["horned", "ammonite"])
def test_level_and_areas_agree_with_plane_cuts(
    piece: str, down: tuple[float, float, float], horned: Surface, shell: Surface
) -> None:
    """manifold3d trims the solid with the level's plane: volume, wetted and free area (library reference)."""
    surface = horned if piece == "horned" else shell
    solid = manifold3d.Manifold(manifold3d.Mesh64(surface.vertices.copy(), surface.faces.astype(np.uint64)))
    assert solid.status() == manifold3d.Error.NoError
    wanted = 0.07 * solid.volume()
    found = pool(surface, wanted, down=np.array(down))
    unit = np.array(down) / np.linalg.norm(down)
    cut = solid.trim_by_plane(tuple(unit), -found.level)
    assert cut.volume() == pytest.approx(wanted, rel=1e-6)
    assert cut.surface_area() == pytest.approx(found.wetted + found.free, rel=1e-6)


@pytest.mark.parametrize("down", DOWNS)
def test_level_and_areas_agree_with_plane_cuts_of_a_real_model(
    down: tuple[float, float, float], real_mesh: Callable[[str], Path]
) -> None:
    """A figurine with horns, ears and legs: each fills to the same level (manifold3d's cut, library reference)."""
    surface = read_mesh(real_mesh("spot_triangulated.obj"), unit="cm").surface
    solid = manifold3d.Manifold(manifold3d.Mesh64(surface.vertices.copy(), surface.faces.astype(np.uint64)))
    assert solid.status() == manifold3d.Error.NoError
    for share in (0.02, 0.2):
        wanted = share * solid.volume()
        found = pool(surface, wanted, down=np.array(down))
        unit = np.array(down) / np.linalg.norm(down)
        cut = solid.trim_by_plane(tuple(unit), -found.level)
        assert cut.volume() == pytest.approx(wanted, rel=1e-4)
        assert cut.surface_area() == pytest.approx(found.wetted + found.free, rel=1e-4)


def test_the_pool_turns_with_the_solid(horned: Surface) -> None:
    angle = 0.7
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
    down = np.array([0.4, -0.5, -0.6])
    one = pool(horned, 1e-5, down=down)
    other = pool(transformed(horned, turn, shift=(0.1, 0.2, 0.3)), 1e-5, down=turn @ down)
    assert (other.deepest, other.wetted, other.free) == pytest.approx((one.deepest, one.wetted, one.free))


def test_a_box_fills_evenly() -> None:
    box = trimesh.creation.box((0.1, 0.2, 0.3))
    surface = Surface(np.asarray(box.vertices), np.asarray(box.faces))
    found = pool(surface, 0.1 * 0.2 * 0.05, down=np.array([0.0, 0.0, -2.0]))
    assert found.deepest == pytest.approx(0.05, rel=1e-10)
    assert found.free == pytest.approx(0.02, rel=1e-10)
    assert found.wetted == pytest.approx(0.02 + 0.05 * 0.6, rel=1e-10)


def test_more_than_the_hollow_is_refused(horned: Surface) -> None:
    with pytest.raises(InputError, match="times the hollow"):
        pool(horned, 1.0, down=np.array([0.0, 0.0, -1.0]))
