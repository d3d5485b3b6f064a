"""How much a coat's figures scatter from mesh to mesh: the same coat on meshes laid out at random.

Run: python benchmarks/film_scatter.py [nodes]; about a minute with 1000 nodes.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
import trimesh
from scipy.spatial.transform import Rotation

from evenwall.files.resin_file import load_resin
from evenwall.film.run import forecast
from evenwall.film.state import Shot
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.remesh import evened
from evenwall.geometry.solid import area, measures
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.turning import patterns

MESHES = 5
COAT = 1e-3
NAMES = ("mean", "p05", "median", "p95", "cv", "least")


def ring() -> Surface:
    mesh = trimesh.creation.torus(0.05, 0.02, major_sections=96, minor_sections=48)
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def egg() -> Surface:
    round_one = ball(0.045, rounds=5)
    return Surface(round_one.vertices * [0.8, 1.0, 1.4], round_one.faces)


def peanut() -> Surface:
    round_one = ball(1.0, rounds=5)
    radius = 0.03 * (1.0 + 0.9 * round_one.vertices[:, 2] ** 2)
    return Surface(round_one.vertices * radius[:, None], round_one.faces)


def scatter(make: Callable[[], Surface], nodes: int) -> np.ndarray:
    """Standard deviation over mean of each figure []."""
    wall = make()
    motion = patterns.hand(
        frame_rate=1.05, cradle_rate=0.84, duration=1500.0, frame_turns=(8.25, 7.0), cradle_turns=(9.75, 8.5)
    )
    shot = Shot(volume=COAT * area(wall), pour_after=95.0)
    rows = []
    for k in range(MESHES):
        turn = Rotation.random(random_state=k).as_matrix()
        laid = evened(Surface(wall.vertices @ turn.T, wall.faces), nodes=nodes + 17 * (k - 2))
        done = forecast(
            Surface(laid.vertices @ turn, laid.faces),
            load_resin("museum-gradual"),
            motion,
            (shot,),
            second_mesh=False,
            crossing=measures(wall).centroid,
        )
        rows.append([getattr(done.coats[0].figures, name) for name in NAMES])
    return np.std(rows, axis=0, ddof=1) / np.mean(rows, axis=0)


if __name__ == "__main__":
    nodes = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for make in (egg, ring, peanut, ammonite):
        figures = ", ".join(f"{name} {x:.2%}" for name, x in zip(NAMES, scatter(make, nodes), strict=True))
        print(f"{make.__name__}, {nodes} nodes: {figures}", flush=True)
