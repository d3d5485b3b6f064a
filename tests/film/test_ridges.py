"""Ridges that are finer than the mesh of a wall are counted and told."""

from __future__ import annotations

import manifold3d
import numpy as np

from evenwall.film.operators import node_areas
from evenwall.film.ridges import TELLING, said_of_ridges, unfollowed
from evenwall.geometry.remesh import evened
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball


def _share(wall: Surface) -> float:
    return unfollowed(wall, node_areas(wall))


def test_a_ball_has_none_and_finer_meshes_miss_fewer() -> None:
    assert _share(ball(0.03, rounds=3)) == 0.0
    round_one = manifold3d.Manifold.sphere(0.03, 64)
    mesh = (round_one + round_one.translate((0.04, 0.0, 0.0))).to_mesh64()
    lobes = Surface(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64))
    coarse, fine = (_share(evened(lobes, nodes=nodes)) for nodes in (300, 3000))
    assert coarse > 2.0 * fine
    assert fine < TELLING


def test_they_are_told_from_the_share_on_that_decides_the_thinnest_places() -> None:
    assert said_of_ridges(0.9 * TELLING) == ()
    (said,) = said_of_ridges(0.33)
    assert "33%" in said
    assert said.endswith(".")
