"""The spun surface: volume kept, level right at rest, far walls wet when turned fast."""

import numpy as np
import pytest
import trimesh

from evenwall.errors import InputError
from evenwall.film.level import pool
from evenwall.film.operators import inward_normals
from evenwall.film.reach import reach
from evenwall.film.spin import Potential, potential, spun_surface, value
from evenwall.film.transfer import third_areas
from evenwall.geometry.surface import Surface

STILL = np.zeros(3)


@pytest.fixture(scope="module")
def capsule() -> Surface:
    """Two balls of 20 mm joined by a tube, 80 mm long in all, off the axes."""
    mesh = trimesh.creation.capsule(height=0.04, radius=0.02, count=(40, 40))
    mesh.merge_vertices()
    return Surface(np.asarray(mesh.vertices) + np.array([0.03, 0.0, 0.0]), np.asarray(mesh.faces))


def spin(surface: Surface, volume: float, field: Potential) -> tuple[object, np.ndarray]:
    areas = third_areas(surface)
    depth = reach(surface.vertices, inward_normals(surface))
    return spun_surface(surface, volume, field, areas=areas, reach=depth), areas


def test_without_turning_it_is_the_level_pool(capsule: Surface) -> None:
    field = potential(np.array([0.0, 0.0, -9.80665]), STILL, crossing=STILL)
    found, areas = spin(capsule, 8e-6, field)
    level = pool(capsule, 8e-6, down=np.array([0.0, 0.0, -1.0]))
    assert found.level == pytest.approx(-9.80665 * level.level, abs=9.8 * 1e-4)
    assert found.wetted * areas.sum() == pytest.approx(level.wetted, rel=0.06)  # to the wall's nodes
    assert areas @ found.volume == pytest.approx(8e-6, rel=1e-12)
    assert found.ratio == 0.0


@pytest.mark.parametrize("axis", np.eye(3))
def test_fast_turning_wets_the_far_walls_only(capsule: Surface, axis: np.ndarray) -> None:
    rate = 40.0 * axis
    gravity = np.array([[0.0, 0.0, -9.8], [0.0, 0.0, 9.8]])
    field = potential(gravity, np.stack([rate, rate]), crossing=STILL)
    found, areas = spin(capsule, 8e-6, field)
    assert areas @ found.volume == pytest.approx(8e-6, rel=1e-12)
    wet = found.thickness > 0.0
    assert value(field, capsule.vertices[wet]).min() >= value(field, capsule.vertices[~wet]).max()
    held = areas * found.volume
    far = np.linalg.norm(np.cross(axis, capsule.vertices), axis=1)
    assert np.average(far, weights=held) > np.average(far, weights=areas)
    assert 0.0 < found.wetted < 0.6
    assert found.ratio > 1.0
    assert "farthest from the axis" in found.text
    assert np.all(found.thickness <= reach(capsule.vertices, inward_normals(capsule)) + 1e-12)


def test_slow_turning_is_left_to_the_film(capsule: Surface) -> None:
    field = potential(np.array([0.0, 0.0, -9.8]), np.array([1.0, 0.0, 0.3]), crossing=STILL)
    found, _ = spin(capsule, 8e-6, field)
    assert found.ratio < 1.0
    assert "film's own forecast holds" in found.text


def test_finer_lines_change_little(capsule: Surface) -> None:
    field = potential(np.array([0.0, 0.0, -9.8]), np.array([3.0, 20.0, 5.0]), crossing=STILL)
    areas, depth = third_areas(capsule), reach(capsule.vertices, inward_normals(capsule))
    coarse, fine = (
        spun_surface(capsule, 8e-6, field, areas=areas, reach=depth, lines=lines) for lines in (100, 300)
    )
    swing = np.ptp(value(field, capsule.vertices))
    assert abs(coarse.level - fine.level) < 1e-3 * swing


def test_more_than_the_hollow_is_refused(capsule: Surface) -> None:
    with pytest.raises(InputError, match="times the hollow"):
        spin(capsule, 1.0, potential(STILL, STILL, crossing=STILL))
