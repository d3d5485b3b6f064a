"""How deep liquid can stand on a wall before it meets liquid of another wall."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from evenwall.film.state import Floats

FINE: Final = 8.0  # a ball is held against nodes at most its radius over this apart []


def reach(x: Floats, normal: Floats, *, most: float | Floats = math.inf, rounds: int = 16) -> Floats:
    """Radius (n,) [m] of the largest ball touching the wall at each node from inside, up to `most` [m], one or (n,).

    `x` (n, 3) [m] are the nodes, `normal` (n, 3) unit vectors into the cavity. The ball is shrunk until no
    node lies in it (Ma, Bae & Choi, 3D medial axis point approximation using nearest neighbors and the
    normal field, Visual Computer 28 (2012) 7, section 3). The balls at a node lie one in the other, so where they begin
    changes nothing but the time. Wide balls are held against a choice of the nodes, one out of every cell of a grid:
    all nodes of an even hollow are about as near to the middle, and a search among them looks at each. An even wall's
    radius comes out too large by at most 1 in 8 FINE^2 by that, a spike's tip is missed by at most a cell.
    Example: 0.05 m everywhere in a sphere of 50 mm.
    """
    across = float(np.linalg.norm(np.ptp(x, axis=0)))
    radius: Floats = np.minimum(np.broadcast_to(most, len(x)), across)
    tree = cKDTree(x)
    apart = float(np.median(tree.query(x, k=2)[0][:, 1]))
    trees = [(np.arange(len(x)), tree)]
    while FINE * apart * 2.0 ** len(trees) < across:
        cells = np.floor((x - x.min(axis=0)) / (apart * 2.0 ** len(trees))).astype(np.int64)
        chosen = np.unique(cells, axis=0, return_index=True)[1]
        trees.append((chosen, cKDTree(x[chosen])))
    todo = np.arange(len(x))
    for _ in range(rounds):
        level = np.log2(np.maximum(radius[todo] / (FINE * apart), 1.0)).astype(np.int64)
        level = np.minimum(level, len(trees) - 1)
        nearest, distance = np.zeros(len(todo), dtype=np.int64), np.zeros(len(todo))
        for k, (chosen, nodes) in enumerate(trees):
            here = level == k
            centre = x[todo[here]] + radius[todo[here], None] * normal[todo[here]]
            distance[here], found = nodes.query(centre)
            nearest[here] = chosen[found]
        shrink = (nearest != todo) & (distance < radius[todo] * (1.0 - 1e-9))
        todo, nearest = todo[shrink], nearest[shrink]
        if not len(todo):
            break
        gap = x[nearest] - x[todo]
        depth = np.einsum("ij,ij->i", gap, normal[todo])
        touching = 0.5 * np.einsum("ij,ij->i", gap, gap) / np.maximum(depth, 1e-300)
        radius[todo] = np.minimum(radius[todo], np.where(depth > 0.0, touching, radius[todo]))
    return radius
