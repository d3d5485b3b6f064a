"""Nodes that are full: their volumes fill the hollow, a pool over them rests level, ceilings let go."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.film.coat import CoatRun, level_pool, levels, run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.level import pool
from evenwall.film.operators import Wall, build_wall, inward_normals
from evenwall.film.reach import reach
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.remesh import evened
from evenwall.geometry.solid import volume
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import still

DOWN = np.array([0.0, 0.0, -1.0])
LIQUID = constant_fluid(viscosity=0.1, density=1050.0)


@pytest.fixture(scope="module")
def bowl() -> Surface:
    return ball(0.05, rounds=4)


def level_of(wall: Wall, run: CoatRun) -> np.ndarray:
    """Height of the liquid's surface over every node that carries some [m]."""
    found = levels(wall, run.film.volume, (0.0, 0.0, -1.0))
    return found[(wall.normal[:, 2] > 0.3) & (run.thickness > 1e-3)]


def test_nodes_up_to_their_brims_fill_the_hollow(bowl: Surface) -> None:
    flat = Surface(bowl.vertices * [1.0, 0.7, 0.4], bowl.faces)
    for surface in (bowl, flat):
        wall = build_wall(surface)
        assert wall.area @ wall.brim == pytest.approx(volume(surface), rel=0.015)


@pytest.mark.parametrize("nodes", [2500, 10_000])
def test_a_hollow_with_ribs_and_grooves_is_filled_by_its_nodes(nodes: int) -> None:
    """The hollow is the divergence theorem's; averaged curvatures alone leave 4 % out at 10,000 nodes."""
    piece = evened(ammonite(), nodes=nodes)
    wall = build_wall(piece)
    assert wall.area @ wall.brim == pytest.approx(volume(piece), rel=1e-6)


def test_a_pool_deeper_than_its_nodes_stays_level_in_long_steps(bowl: Surface) -> None:
    """Plane cuts of the solid are the outside reference; a node that chatters takes hundreds of short steps."""
    wall, poured = build_wall(bowl), 200e-6
    run = run_coat(wall, LIQUID, still(), volume=level_pool(wall, poured, (0.0, 0.0, -1.0)), until=30.0)
    assert np.count_nonzero(run.film.volume > wall.brim) > 100
    level = level_of(wall, run)
    assert np.ptp(level) < 1e-4
    assert np.median(level) == pytest.approx(pool(bowl, poured, down=DOWN).level, abs=5e-4)
    assert run.steps < 120
    assert run.failed == 0


def test_a_pool_let_go_aside_comes_to_the_same_level(bowl: Surface) -> None:
    wall, poured = build_wall(bowl), 200e-6
    run = run_coat(wall, LIQUID, still(), volume=level_pool(wall, poured, (0.3, 0.0, -1.0)), until=60.0)
    level = level_of(wall, run)
    assert np.median(level) == pytest.approx(pool(bowl, poured, down=DOWN).level, abs=1e-3)
    assert run.volume_error < 1e-12


def test_no_liquid_is_told_deeper_than_the_largest_ball(bowl: Surface) -> None:
    flat = Surface(bowl.vertices * [1.0, 0.7, 0.3], bowl.faces)
    wall = build_wall(flat)
    run = run_coat(
        wall, LIQUID, still(frame_angle=1.4), volume=level_pool(wall, 60e-6, tuple(DOWN)), until=5.0
    )
    assert np.all(run.thickness <= reach(flat.vertices, inward_normals(flat)) * (1.0 + 1e-9))


def test_wide_balls_are_found_among_few_nodes() -> None:
    """Nodes enough for two coarser choices of them; radius of a ball, and under a spike from its top."""
    sphere = ball(0.05, rounds=6)
    found = reach(sphere.vertices, inward_normals(sphere))
    assert np.median(found) == pytest.approx(0.05, rel=2e-3)
    assert (
        0.92 * 0.05 < found.min() <= found.max() < 1.005 * 0.05
    )  # the nearest nodes' normals are a little off
    spike = np.exp(-((sphere.vertices[:, 0] / 0.004) ** 2 + (sphere.vertices[:, 1] / 0.004) ** 2))
    spike *= sphere.vertices[:, 2] > 0.0
    pierced = Surface(sphere.vertices - np.outer(0.06 * spike, [0.0, 0.0, 1.0]), sphere.faces)
    bottom = int(np.argmin(sphere.vertices[:, 2]))
    tip = int(np.argmax(spike))
    half = 0.5 * (pierced.vertices[tip, 2] - pierced.vertices[bottom, 2])
    assert reach(pierced.vertices, inward_normals(pierced))[bottom] == pytest.approx(half, rel=0.02)
