"""Skins that cross: found face by face with a tree of boxes, and united where they bound several bodies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from evenwall.errors import MeshError
from evenwall.geometry.surface import FloatArray, IntArray, Surface
from evenwall.geometry.tree import Tree, tree_of

_MOST_PAIRS = 200_000  # crossing pairs that are kept
_MOST_TESTS = 400_000_000  # boxes looked at before the search is given up


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossings:
    """Pairs of faces that cross each other."""

    pairs: IntArray  # faces, shape (k, 2)
    complete: bool  # False where the search was given up


def crossings(surface: Surface) -> Crossings:
    """All pairs of faces that cross without sharing an edge.

    Two triangles cross where an edge of one passes through the other (Möller 1997, journal of graphics
    tools 2(2) 25-30, tests the same); those that only lie on each other in one plane are not found.
    """
    tree = tree_of(surface)
    faces = np.ascontiguousarray(surface.faces[tree.order])
    low, high = tree.corner.min(axis=1), tree.corner.max(axis=1)
    pairs, count, complete = _search(tree, low, high, faces, _MOST_PAIRS, _MOST_TESTS)
    return Crossings(pairs=tree.order[pairs[:count]].reshape(-1, 2), complete=bool(complete))


def united(parts: list[Surface]) -> Surface:
    """The union of closed bodies, all facing outwards, by manifold3d; raises MeshError where it can't be."""
    from manifold3d import Error, Manifold, Mesh64, OpType

    solids = []
    for part in parts:
        solid = Manifold(Mesh64(part.vertices, part.faces.astype(np.uint64)))
        if solid.status() != Error.NoError:
            raise MeshError(
                f"a body of {len(part.faces)} faces can't be united ({solid.status().name}): keep it"
            )
        solids.append(solid)
    mesh = Manifold.batch_boolean(solids, OpType.Add).to_mesh64()
    return Surface(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64))


@njit(cache=True)
def _side(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> float:
    """Six times the volume of the tetrahedron a, b, c, d."""
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    wx, wy, wz = d[0] - a[0], d[1] - a[1], d[2] - a[2]
    return float(ux * (vy * wz - vz * wy) + uy * (vz * wx - vx * wz) + uz * (vx * wy - vy * wx))


@njit(cache=True)
def _passes(p: FloatArray, q: FloatArray, t: FloatArray) -> bool:
    """True where the line from p to q passes through triangle t (3, 3), its rim included."""
    sp, sq = _side(t[0], t[1], t[2], p), _side(t[0], t[1], t[2], q)
    if not (sp > 0.0 > sq or sp < 0.0 < sq):
        return False
    s0, s1, s2 = _side(p, q, t[0], t[1]), _side(p, q, t[1], t[2]), _side(p, q, t[2], t[0])
    return (s0 >= 0.0 and s1 >= 0.0 and s2 >= 0.0) or (s0 <= 0.0 and s1 <= 0.0 and s2 <= 0.0)


@njit(cache=True)
def _among(vertex: int, face: IntArray) -> bool:
    return bool(vertex == face[0] or vertex == face[1] or vertex == face[2])


@njit(cache=True)
def _cross_each_other(s: FloatArray, t: FloatArray, fs: IntArray, ft: IntArray) -> bool:
    """True where an edge of one face passes through the other; edges that end on the other don't count."""
    shared = 0
    for i in range(3):
        for j in range(3):
            if fs[i] == ft[j]:
                shared += 1
    if shared > 1:
        return False
    for k in range(3):
        e = (k + 1) % 3
        if not (_among(fs[k], ft) or _among(fs[e], ft)) and _passes(s[k], s[e], t):
            return True
        if not (_among(ft[k], fs) or _among(ft[e], fs)) and _passes(t[k], t[e], s):
            return True
    return False


@njit(cache=True)
def _apart(low: FloatArray, high: FloatArray, other_low: FloatArray, other_high: FloatArray) -> bool:
    """True where two boxes have no point in common."""
    apart = False
    for k in range(3):
        apart = apart or other_low[k] > high[k] or other_high[k] < low[k]
    return apart


@njit(cache=True)
def _search(
    tree: Tree, low: FloatArray, high: FloatArray, faces: IntArray, most_pairs: int, most_tests: int
) -> tuple[IntArray, int, bool]:
    """Leaf by leaf: every later leaf whose box meets this one's, then triangle by triangle."""
    leaves = len(tree.start) - 1
    pairs = np.empty((most_pairs, 2), np.int64)
    count = tests = 0
    stack = np.empty(256, np.int64)
    for leaf in range(leaves, 2 * leaves):
        first, end = tree.start[leaf - leaves], tree.start[leaf - leaves + 1]
        stack[0] = 1
        size = 1
        while size > 0:
            size -= 1
            node = stack[size]
            tests += 1
            if _apart(tree.low[leaf], tree.high[leaf], tree.low[node], tree.high[node]):
                continue
            if node < leaves:
                stack[size], stack[size + 1] = 2 * node, 2 * node + 1
                size += 2
                continue
            if node < leaf:
                continue
            for i in range(first, end):
                for j in range(max(tree.start[node - leaves], i + 1), tree.start[node - leaves + 1]):
                    tests += 1
                    if _apart(low[i], high[i], low[j], high[j]):
                        continue
                    if _cross_each_other(tree.corner[i], tree.corner[j], faces[i], faces[j]):
                        pairs[count, 0], pairs[count, 1] = i, j
                        count += 1
                        if count == most_pairs:
                            return pairs, count, False
            if tests > most_tests:
                return pairs, count, False
    return pairs, count, True
