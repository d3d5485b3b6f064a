"""How often a skin of triangles winds round points: inside and outside even where the skin has holes."""

from __future__ import annotations

from itertools import permutations
from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit

from evenwall.geometry.surface import FloatArray, Surface
from evenwall.geometry.tree import Tree

_KINDS: Final = ((0,0,0),(1,1,1),(2,2,2),(0,0,1),(0,0,2),(0,1,1),(1,1,2),(0,2,2),(1,2,2),(0,1,2))  # fmt: skip
FAR: Final = 2.0  # a box of triangles counts as one far away beyond so many of its radii []


def far_fields(tree: Tree) -> FloatArray:
    """What the triangles of every box of a tree are from afar, (2 leaves, 27); row i is node i.

    In a row: centre [m] 0 to 2, radius [m] 3, dipole [m2] 4 to 6; then what the two corrections need: the
    spread's trace 7, the spread xx, yy, zz, xy, xz, yz [m3] 8 to 13, the traces of the second spread 14 to 16
    and its parts xxx, yyy, zzz, xxy, xxz, xyy, yyz, xzz, yzz, xyz [m4] 17 to 26, those of one kind summed.
    Source: Barill et al. 2018, Fast winding numbers for soups and clouds, ACM Trans. Graph. 37(4) 43,
    section 3 (dipole and two corrections).
    """
    leaves = len(tree.start) - 1
    origin = 0.5 * (tree.low[1] + tree.high[1])
    corner = tree.corner - origin
    vector = 0.5 * np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(vector, axis=1)
    middle = corner.mean(axis=1)
    arm = corner - middle[:, None]
    second = middle[:, :, None] * middle[:, None, :] + np.einsum("tci,tcj->tij", arm, arm) / 12.0
    columns = np.concatenate(
        [
            size[:, None],
            size[:, None] * middle,
            vector,
            (middle[:, :, None] * vector[:, None, :]).reshape(-1, 9),
            (second[:, :, :, None] * vector[:, None, None, :]).reshape(-1, 27),
        ],
        axis=1,
    )
    sums = np.zeros((2 * leaves, columns.shape[1]))
    sums[leaves:] = np.add.reduceat(columns, tree.start[:-1], axis=0)
    level = leaves
    while level > 1:
        half = level // 2
        sums[half:level] = sums[level : 2 * level : 2] + sums[level + 1 : 2 * level : 2]
        level = half
    some = sums[:, :1] > 0.0
    box_middle = 0.5 * (tree.low + tree.high) - origin
    centre = np.where(some, sums[:, 1:4] / np.where(some, sums[:, :1], 1.0), box_middle)
    dipole = np.ascontiguousarray(sums[:, 4:7])
    first, twice = sums[:, 7:16].reshape(-1, 3, 3), sums[:, 16:].reshape(-1, 3, 3, 3)
    once = np.einsum("ni,njk->nijk", centre, first)
    bent = twice - once - once.transpose(0, 2, 1, 3) + np.einsum("ni,nj,nk->nijk", centre, centre, dipole)
    spread = first - centre[:, :, None] * dipole[:, None, :]
    radius = np.linalg.norm(np.maximum(tree.high - origin - centre, centre + origin - tree.low), axis=1)
    parts = [*(centre + origin).T, radius, *dipole.T, np.einsum("nii->n", spread)]
    parts += [spread[:, i, i] for i in range(3)]
    parts += [spread[:, i, j] + spread[:, j, i] for i, j in ((0, 1), (0, 2), (1, 2))]
    parts += [*(2.0 * np.einsum("nijj->in", bent) + np.einsum("niik->kn", bent))]
    for one in _KINDS:
        parts.append(sum(bent[:, i, j, k] for i, j, k in set(permutations(one))))
    return np.ascontiguousarray(np.stack(parts, axis=1))


def winding_numbers(tree: Tree, fields: FloatArray, points: npt.ArrayLike) -> FloatArray:
    """How often the skin winds round each of the points (k, 3) [m]: 1 inside a closed body, 0 outside, (k,).

    Near triangles count by their solid angle (van Oosterom & Strackee 1983, IEEE Trans. Biomed. Eng. 30(2)
    125-126), boxes beyond FAR radii by their `far_fields`, which errs by less than about 0.01.
    """
    return np.asarray(_many(tree, fields, np.ascontiguousarray(points, dtype=np.float64)))


def winding(surface: Surface, point: FloatArray) -> float:
    """The same for one point (3,) [m], exactly."""
    a, b, c = (surface.vertices[surface.faces[:, k]] - point for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    bottom = la * lb * lc
    bottom += np.einsum("ij,ij->i", a, b) * lc + np.einsum("ij,ij->i", b, c) * la
    bottom += np.einsum("ij,ij->i", c, a) * lb
    return float(np.arctan2(top, bottom).sum() / (2.0 * np.pi))


@njit(cache=True)
def _angle(corner: FloatArray, p: FloatArray) -> float:
    """Half the solid angle of a triangle seen from p."""
    ax, ay, az = corner[0, 0] - p[0], corner[0, 1] - p[1], corner[0, 2] - p[2]
    bx, by, bz = corner[1, 0] - p[0], corner[1, 1] - p[1], corner[1, 2] - p[2]
    cx, cy, cz = corner[2, 0] - p[0], corner[2, 1] - p[1], corner[2, 2] - p[2]
    la = np.sqrt(ax * ax + ay * ay + az * az)
    lb = np.sqrt(bx * bx + by * by + bz * bz)
    lc = np.sqrt(cx * cx + cy * cy + cz * cz)
    top = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    bottom = la * lb * lc + (ax * bx + ay * by + az * bz) * lc
    bottom += (bx * cx + by * cy + bz * cz) * la + (cx * ax + cy * ay + cz * az) * lb
    return float(np.arctan2(top, bottom))


@njit(cache=True)
def _far(f: FloatArray, n: int, x: float, y: float, z: float) -> float:
    """Winding number, times 4 pi, of a box of triangles (row n of f) whose centre lies at x, y, z."""
    square = x * x + y * y + z * z
    along = f[n, 4] * x + f[n, 5] * y + f[n, 6] * z
    slope = f[n, 8] * x * x + f[n, 9] * y * y + f[n, 10] * z * z
    slope += f[n, 11] * x * y + f[n, 12] * x * z + f[n, 13] * y * z
    traced = f[n, 14] * x + f[n, 15] * y + f[n, 16] * z
    bent = x * x * (f[n, 17] * x + f[n, 20] * y + f[n, 21] * z) + z * z * (f[n, 19] * z + f[n, 24] * x)
    bent += y * y * (f[n, 18] * y + f[n, 22] * x + f[n, 23] * z)
    bent += z * (f[n, 25] * y * z + f[n, 26] * x * y)
    first = f[n, 7] - 3.0 * slope / square
    second = (7.5 * bent / square - 1.5 * traced) / square
    return float((along + first + second) / (square * np.sqrt(square)))


@njit(cache=True)
def _many(tree: Tree, f: FloatArray, points: FloatArray) -> FloatArray:
    leaves = len(tree.start) - 1
    out = np.empty(len(points))
    stack = np.empty(128, np.int64)
    for i in range(len(points)):
        near = far = 0.0
        stack[0] = 1
        size = 1
        while size > 0:
            size -= 1
            n = stack[size]
            x, y, z = f[n, 0] - points[i, 0], f[n, 1] - points[i, 1], f[n, 2] - points[i, 2]
            reach = FAR * f[n, 3]
            if x * x + y * y + z * z > reach * reach:
                far += _far(f, n, x, y, z)
            elif n < leaves:
                stack[size], stack[size + 1] = 2 * n, 2 * n + 1
                size += 2
            else:
                for t in range(tree.start[n - leaves], tree.start[n - leaves + 1]):
                    near += _angle(tree.corner[t], points[i])
        out[i] = (2.0 * near + far) / (4.0 * np.pi)
    return out
