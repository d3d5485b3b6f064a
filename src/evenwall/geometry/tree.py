"""A tree of boxes over the triangles of a surface: the closest point, and the first hit of a ray."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from evenwall.errors import MeshError
from evenwall.geometry.surface import FloatArray, IntArray, Surface, area_vectors, corners

LEAF = 4  # triangles in a leaf


class Tree(NamedTuple):
    """Triangles in the order of a space-filling curve and the boxes of a full binary tree over them.

    Node 1 is the root, node i has the children 2 i and 2 i + 1; the last half of the nodes are leaves.
    """

    corner: FloatArray  # corners of the ordered triangles [m], (m, 3, 3)
    normal: FloatArray  # unit normals, zero where a triangle has no area, (m, 3)
    order: IntArray  # index of each ordered triangle in the surface, (m,)
    start: IntArray  # first triangle of each leaf, and the end, (leaves + 1,)
    low: FloatArray  # least corner of each box [m], (2 leaves, 3)
    high: FloatArray  # greatest corner of each box [m], (2 leaves, 3)


def tree_of(surface: Surface) -> Tree:
    """The tree over all triangles of a surface; raises MeshError where there is none."""
    if not len(surface.faces):
        raise MeshError("a surface of 0 faces has no wall: give a mesh with triangles")
    corner = corners(surface)
    order = np.argsort(_curve_codes(corner.mean(axis=1)), kind="stable").astype(np.int64)
    corner = np.ascontiguousarray(corner[order])
    vector = area_vectors(surface)[order]
    length = np.linalg.norm(vector, axis=1, keepdims=True)
    normal = np.divide(vector, length, out=np.zeros_like(vector), where=length > 0.0)
    count = len(order)
    leaves = 1
    while leaves * LEAF < count:
        leaves *= 2
    start = (np.arange(leaves + 1, dtype=np.int64) * count) // leaves
    low = np.empty((2 * leaves, 3))
    high = np.empty((2 * leaves, 3))
    low[leaves:] = np.minimum.reduceat(corner.min(axis=1), start[:-1], axis=0)
    high[leaves:] = np.maximum.reduceat(corner.max(axis=1), start[:-1], axis=0)
    level = leaves
    while level > 1:
        half = level // 2
        low[half:level] = np.minimum(low[level : 2 * level : 2], low[level + 1 : 2 * level : 2])
        high[half:level] = np.maximum(high[level : 2 * level : 2], high[level + 1 : 2 * level : 2])
        level = half
    low[0], high[0] = low[1], high[1]
    return Tree(corner, normal, order, start, low, high)


class Closest(NamedTuple):
    """Closest points of a surface to given points."""

    distance: FloatArray  # distance to the surface [m], (k,)
    foot: FloatArray  # the closest point of the surface [m], (k, 3)
    face: IntArray  # the face it lies on, (k,)
    normal: FloatArray  # that face's unit normal, (k, 3)


def closest(
    tree: Tree,
    points: npt.ArrayLike,
    *,
    facing: FloatArray | None = None,
    reach: float = np.inf,
    within: FloatArray | None = None,
) -> Closest:
    """The closest point of the surface to each of the points (k, 3) [m].

    With `facing` (k, 3), a direction at each point, only faces whose normals are within 90 degrees of it
    count (so that a point does not jump through a thin part), unless there is none within `reach` [m].
    `within` (k,) [m], the distance that is found at most, makes the search shorter where it holds.
    """
    where = np.ascontiguousarray(points, dtype=np.float64)
    direction = np.zeros_like(where) if facing is None else np.ascontiguousarray(facing, dtype=np.float64)
    limit = np.full(len(where), np.inf) if within is None else np.ascontiguousarray(within, dtype=np.float64)
    distance, foot, ordered = _closest_many(tree, where, direction, facing is not None, limit)
    lost = np.flatnonzero((ordered < 0) | (distance > reach))
    if (facing is not None or within is not None) and lost.size:
        distance[lost], foot[lost], ordered[lost] = _closest_many(
            tree, where[lost], direction[lost], False, np.full(len(lost), np.inf)
        )
    return Closest(distance, foot, tree.order[ordered], tree.normal[ordered])


def first_hit(tree: Tree, starts: FloatArray, directions: FloatArray, *, skip: float) -> FloatArray:
    """Distance along each ray to the first triangle it meets beyond `skip` [m], inf where none: (k,) [m].

    starts (k, 3) [m]; directions (k, 3), of length 1. Source: Möller & Trumbore 1997, journal of graphics
    tools 2(1) 21-28.
    """
    return np.asarray(
        _hit_many(tree, np.ascontiguousarray(starts), np.ascontiguousarray(directions), float(skip))
    )


def _curve_codes(points: FloatArray) -> npt.NDArray[np.uint64]:
    """Place of each point on Morton's curve (Morton 1966, IBM technical report)."""
    low = points.min(axis=0)
    span = max(float(np.ptp(points, axis=0).max()), 1e-300)
    steps = np.clip((points - low) / span * 65535.0, 0.0, 65535.0).astype(np.uint64)
    code = np.zeros(len(points), dtype=np.uint64)
    for bit in range(16):
        for axis in range(3):
            code |= ((steps[:, axis] >> np.uint64(bit)) & np.uint64(1)) << np.uint64(3 * bit + axis)
    return code


@njit(cache=True)
def _to_triangle(p: FloatArray, corner: FloatArray, foot: FloatArray) -> float:
    """Squared distance from p to a triangle; writes the closest point (Ericson 2004, section 5.1.5)."""
    a, b, c = corner[0], corner[1], corner[2]
    d1 = d2 = d3 = d4 = d5 = d6 = 0.0
    for k in range(3):
        ab, ac = b[k] - a[k], c[k] - a[k]
        d1 += ab * (p[k] - a[k])
        d2 += ac * (p[k] - a[k])
        d3 += ab * (p[k] - b[k])
        d4 += ac * (p[k] - b[k])
        d5 += ab * (p[k] - c[k])
        d6 += ac * (p[k] - c[k])
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    v = w = 0.0
    if d1 <= 0.0 and d2 <= 0.0:
        pass
    elif d3 >= 0.0 and d4 <= d3:
        v = 1.0
    elif d6 >= 0.0 and d5 <= d6:
        w = 1.0
    elif vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        v = d1 / (d1 - d3)
    elif vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        w = d2 / (d2 - d6)
    elif va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        v = 1.0 - w
    else:
        total = va + vb + vc
        if total > 0.0:
            v, w = vb / total, vc / total
    square = 0.0
    for k in range(3):
        foot[k] = a[k] + v * (b[k] - a[k]) + w * (c[k] - a[k])
        square += (p[k] - foot[k]) ** 2
    return square


@njit(cache=True)
def _box_square(p: FloatArray, low: FloatArray, high: FloatArray) -> float:
    """Squared distance from p to a box."""
    square = 0.0
    for k in range(3):
        if p[k] < low[k]:
            square += (low[k] - p[k]) ** 2
        elif p[k] > high[k]:
            square += (p[k] - high[k]) ** 2
    return square


@njit(cache=True)
def _closest_many(
    tree: Tree, points: FloatArray, facing: FloatArray, faced: bool, limit: FloatArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    leaves = len(tree.start) - 1
    count = len(points)
    distance = np.full(count, np.inf)
    feet = np.zeros((count, 3))
    found = np.full(count, -1, np.int64)
    stack = np.empty(128, np.int64)
    foot = np.empty(3)
    for i in range(count):
        p, n = points[i], facing[i]
        best = limit[i] * limit[i]
        stack[0] = 1
        size = 1
        while size > 0:
            size -= 1
            node = stack[size]
            if _box_square(p, tree.low[node], tree.high[node]) >= best:
                continue
            if node < leaves:
                left = 2 * node
                near = _box_square(p, tree.low[left], tree.high[left])
                far = _box_square(p, tree.low[left + 1], tree.high[left + 1])
                stack[size] = left + 1 if near <= far else left
                stack[size + 1] = left if near <= far else left + 1
                size += 2
                continue
            for t in range(tree.start[node - leaves], tree.start[node - leaves + 1]):
                m = tree.normal[t]
                if faced and m[0] * n[0] + m[1] * n[1] + m[2] * n[2] <= 0.0:
                    continue
                square = _to_triangle(p, tree.corner[t], foot)
                if square < best:
                    best = square
                    found[i] = t
                    feet[i] = foot
        distance[i] = np.sqrt(best)
    return distance, feet, found


@njit(cache=True)
def _hit_triangle(o: FloatArray, d: FloatArray, corner: FloatArray) -> float:
    """Distance along the ray to a triangle, inf where it misses."""
    e1, e2, t = corner[1] - corner[0], corner[2] - corner[0], o - corner[0]
    p = np.cross(d, e2)
    scale = np.dot(e1, p)
    if scale == 0.0:
        return np.inf
    u = np.dot(t, p) / scale
    if u < 0.0 or u > 1.0:
        return np.inf
    q = np.cross(t, e1)
    v = np.dot(d, q) / scale
    if v < 0.0 or u + v > 1.0:
        return np.inf
    return float(np.dot(e2, q) / scale)


@njit(cache=True)
def _enters_box(o: FloatArray, d: FloatArray, low: FloatArray, high: FloatArray) -> float:
    """Distance along the ray at which it enters a box, inf where it misses."""
    enter, leave = 0.0, np.inf
    for k in range(3):
        if d[k] == 0.0:
            if o[k] < low[k] or o[k] > high[k]:
                return np.inf
            continue
        a, b = (low[k] - o[k]) / d[k], (high[k] - o[k]) / d[k]
        enter, leave = max(enter, min(a, b)), min(leave, max(a, b))
    return enter if enter <= leave else np.inf


@njit(cache=True)
def _hit_many(tree: Tree, starts: FloatArray, directions: FloatArray, skip: float) -> FloatArray:
    leaves = len(tree.start) - 1
    out = np.full(len(starts), np.inf)
    stack = np.empty(128, np.int64)
    for i in range(len(starts)):
        o, d = starts[i], directions[i]
        stack[0] = 1
        size = 1
        while size > 0:
            size -= 1
            node = stack[size]
            if _enters_box(o, d, tree.low[node], tree.high[node]) >= out[i]:
                continue
            if node < leaves:
                left = 2 * node
                near = _enters_box(o, d, tree.low[left], tree.high[left])
                far = _enters_box(o, d, tree.low[left + 1], tree.high[left + 1])
                stack[size] = left + 1 if near <= far else left
                stack[size + 1] = left if near <= far else left + 1
                size += 2
                continue
            for t in range(tree.start[node - leaves], tree.start[node - leaves + 1]):
                s = _hit_triangle(o, d, tree.corner[t])
                if skip < s < out[i]:
                    out[i] = s
    return out
