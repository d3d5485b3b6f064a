"""Triangles of polygons in space."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from evenwall.geometry.surface import FloatArray, IntArray

_MOST: Final = 1e50  # a coordinate beyond this (or nan) is left to the caller's checks


def triangles_of_polygons(points: FloatArray, loops: Iterable[IntArray]) -> IntArray:
    """Faces (m, 3) of polygons given as arrays (k, corners) of indices into `points` (n, 3) [any length].

    Quadrilaterals are split along the diagonal that folds them least, larger ones as fans where convex,
    else by cutting ears. Loops that name no existing point are passed on as fans, for the caller's checks.
    """
    faces = [np.zeros((0, 3), dtype=np.int64)]
    for loop in loops:
        if loop.shape[1] == 3:
            faces.append(loop)
            continue
        fans = _fans(loop)
        sound = np.asarray(((loop >= 0) & (loop < len(points))).all(axis=1))
        sound[sound] = (np.abs(points[loop[sound]]) < _MOST).all(axis=(1, 2))
        faces.append(fans[~sound].reshape(-1, 3))
        loop, fans = loop[sound], fans[sound]
        convex = _turns_one_way(points, fans)
        faces.append(fans[convex].reshape(-1, 3))
        if loop.shape[1] == 4:  # a bent or concave one is split the other way
            faces.append(_fans(np.roll(loop[~convex], 1, axis=1)).reshape(-1, 3))
        else:
            faces += [ears(points, polygon) for polygon in loop[~convex]]
    return np.concatenate(faces)


def _fans(loop: IntArray) -> IntArray:
    k = loop.shape[1]
    corners = [np.stack([loop[:, 0], loop[:, i], loop[:, i + 1]], axis=1) for i in range(1, k - 1)]
    return np.stack(corners, axis=1)


def _turns_one_way(points: FloatArray, fans: IntArray) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """True for fans whose triangles all face their common side, shape (k,)."""
    a, b, c = (points[fans[..., i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    mean = normals.sum(axis=1, keepdims=True)
    along = (normals * mean).sum(axis=2)
    return np.asarray((along >= 0).all(axis=1))


def ears(points: FloatArray, polygon: IntArray) -> IntArray:
    """Faces (k - 2, 3) of one loop of k vertices: the best-shaped ear is cut off until three are left.

    The loop is looked at along its mean normal; an ear counts only where no other vertex lies in it.
    Where the loop covers itself from there, the best ear by shape alone is taken.
    """
    flat = flattened(points[polygon])
    left = list(range(len(polygon)))
    faces = []
    quality = {i: _ear_quality(flat, left, i) for i in range(len(left))}
    while len(left) > 3:
        at = max(range(len(left)), key=lambda k: quality[left[k]])
        before, tip, after = left[at - 1], left[at], left[(at + 1) % len(left)]
        faces.append((before, tip, after))
        del left[at]
        for vertex in (before, after):
            quality[vertex] = _ear_quality(flat, left, left.index(vertex))
    faces.append((left[0], left[1], left[2]))
    return np.asarray(polygon[np.array(faces, dtype=np.int64)])


def flattened(loop: FloatArray) -> FloatArray:
    """Loop (k, 3) as seen along its mean normal, shape (k, 2), counter-clockwise."""
    centred = loop - loop.mean(axis=0)
    normal = np.cross(centred, np.roll(centred, -1, axis=0)).sum(axis=0)
    size = float(np.linalg.norm(normal))
    if size == 0.0:
        normal, size = np.array([0.0, 0.0, 1.0]), 1.0
    normal = normal / size
    across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    across /= np.linalg.norm(across)
    return np.stack([centred @ across, centred @ np.cross(normal, across)], axis=1)


def _ear_quality(flat: FloatArray, left: list[int], at: int) -> float:
    """Twice the area over the longest squared side; minus 2 where another vertex lies in the ear."""
    before, tip, after = left[at - 1], left[at], left[(at + 1) % len(left)]
    a, b, c = flat[before], flat[tip], flat[after]
    doubled = _cross(b - a, c - a)
    longest = max(float(((q - p) ** 2).sum()) for p, q in ((a, b), (b, c), (c, a)))
    shape = float(doubled) / longest if longest > 0.0 else 0.0
    if doubled <= 0.0:
        return shape - 1.0
    others = flat[[v for v in left if v not in (before, tip, after)]]
    inside = (
        (_cross(b - a, others - a) >= 0) & (_cross(c - b, others - b) >= 0) & (_cross(a - c, others - c) >= 0)
    )
    return shape - 2.0 if bool(inside.any()) else shape


def _cross(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])
