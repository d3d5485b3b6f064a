"""How deep liquid can stand on a wall before it meets liquid of another wall."""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import cKDTree

from evenwall.film.state import Floats


def reach(x: Floats, normal: Floats, *, most: float = math.inf, rounds: int = 12) -> Floats:
    """Radius (n,) [m] of the largest ball that touches the wall at each node from inside, up to `most` [m].

    `x` (n, 3) [m] are the nodes, `normal` (n, 3) unit vectors into the cavity. The ball is shrunk until no
    node lies in it (Ma, Bae & Choi, 3D medial axis point approximation using nearest neighbors and the
    normal field, Visual Computer 28 (2012) 7, section 3). The balls at a node lie one in the other, so where they begin
    changes nothing but the time: it is long where a ball is as wide as the hollow and all nodes are about as near.
    Example: 0.05 m everywhere in a sphere of 50 mm.
    """
    tree = cKDTree(x)
    radius = np.full(len(x), min(most, float(np.linalg.norm(np.ptp(x, axis=0)))))
    todo = np.arange(len(x))
    for _ in range(rounds):
        centre = x[todo] + radius[todo, None] * normal[todo]
        distance, nearest = tree.query(centre)
        shrink = (nearest != todo) & (distance < radius[todo] * (1.0 - 1e-9))
        todo, nearest = todo[shrink], nearest[shrink]
        if not len(todo):
            break
        gap = x[nearest] - x[todo]
        depth = np.einsum("ij,ij->i", gap, normal[todo])
        touching = 0.5 * np.einsum("ij,ij->i", gap, gap) / np.maximum(depth, 1e-300)
        radius[todo] = np.minimum(radius[todo], np.where(depth > 0.0, touching, radius[todo]))
    return radius
