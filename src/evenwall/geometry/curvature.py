"""Mean and Gauss curvature of a surface as seen from the liquid inside it, averaged over a length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import sparse

from evenwall.geometry.sums import dot
from evenwall.geometry.surface import FloatArray, Surface, area_vectors, corners, edge_keys, half_edges

SHARPEST: Final = 0.7 * np.pi  # turning angle of a crease beyond which its mitre grows no more [rad]


@dataclass(frozen=True, kw_only=True)
class Curvatures:
    """Curvatures at the vertices; positive where the cavity is hollow seen from inside."""

    mean: FloatArray  # H = (k1 + k2)/2, shape (n,) [1/m]
    gauss: FloatArray  # K = k1 k2, shape (n,) [1/m2]

    @property
    def ridge(self) -> FloatArray:
        """-k2, how sharply the wall bends toward the liquid, shape (n,) [1/m]; below 0 where it is hollow all round."""
        return np.asarray(np.sqrt(np.maximum(self.mean**2 - self.gauss, 0.0)) - self.mean)


def curvatures(surface: Surface, *, scale: float) -> Curvatures:
    """Curvatures of the wall, averaged over about `scale` [m] so that creases and corners stay finite.

    The measures of a polyhedron are its edges' turning angles for H and its corners' missing angles for K
    (Cohen-Steiner & Morvan, Restricted Delaunay triangulations and normal cycle, SoCG 2003, section 2); with
    them the volume under a parallel surface, sum of A (h - H h^2 + K h^3/3), follows Steiner's formula. Round a ridge
    the parallel surface is an arc of the turning angle t; in a crease it is a mitre, which shortens it by
    2 tan(t/2) times the thickness, so that this stands for t there. One implicit step of diffusion then spreads both
    over the scale; it keeps their sums.
    Example: on a sphere of radius R seen from inside, H = 1/R and K = 1/R^2. At open edges K is taken as 0.
    """
    mean, gauss, area = _measures(surface)
    smooth = _Diffusion(surface, area, scale)
    h = smooth(mean / area)
    k = smooth(gauss / area)
    return Curvatures(mean=h, gauss=np.minimum(k, h * h))


def _measures(surface: Surface) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Integrals of H and K over each vertex's share of the surface, and that share's area [m2]."""
    n = len(surface.vertices)
    x, f = surface.vertices, surface.faces
    vectors = area_vectors(surface)
    areas = np.linalg.norm(vectors, axis=1)
    normals = vectors / np.maximum(areas, 1e-300)[:, None]
    area = np.bincount(f.ravel(), np.repeat(areas / 3.0, 3), n)
    area = np.maximum(area, 1e-12 * area.sum() / max(n, 1))

    tail, head = half_edges(surface).T
    side = np.tile(np.arange(len(f)), 3)
    key = edge_keys(surface)
    order = np.argsort(key, kind="stable")
    first, second = order[:-1], order[1:]
    pair = key[first] == key[second]
    one, two = first[pair], second[pair]
    along = x[head[one]] - x[tail[one]]
    length = np.linalg.norm(along, axis=1)
    n1, n2 = normals[side[one]], normals[side[two]]
    turn = np.einsum("ij,ij->i", np.cross(n1, n2), along) / np.maximum(length, 1e-300)
    angle = np.arctan2(turn, np.einsum("ij,ij->i", n1, n2))
    angle = np.where(angle > 0.0, 2.0 * np.tan(0.5 * np.minimum(angle, SHARPEST)), angle)
    share = 0.25 * angle * length  # half of beta |e|/2 to each end
    mean = np.bincount(tail[one], share, n) + np.bincount(head[one], share, n)

    corner = corners(surface)
    missing = np.full(n, 2.0 * np.pi)
    for k in range(3):
        a = corner[:, (k + 1) % 3] - corner[:, k]
        b = corner[:, (k + 2) % 3] - corner[:, k]
        wide = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("ij,ij->i", a, b))
        missing -= np.bincount(f[:, k], wide, n)
    single = np.ones(len(key), dtype=bool)
    single[one] = single[two] = False
    missing[tail[single]] = missing[head[single]] = 0.0
    return np.asarray(mean, dtype=np.float64), missing, np.asarray(area, dtype=np.float64)


class _Diffusion:
    """One implicit diffusion step over `scale` on the surface's edges, u -> (A + tau L)^-1 A u."""

    def __init__(self, surface: Surface, area: FloatArray, scale: float) -> None:
        n = len(surface.vertices)
        f = surface.faces
        corner = corners(surface)
        rows, cols, values = [], [], []
        for k in range(3):
            a = corner[:, (k + 1) % 3] - corner[:, k]
            b = corner[:, (k + 2) % 3] - corner[:, k]
            twice = np.maximum(np.linalg.norm(np.cross(a, b), axis=1), 1e-300)
            cotangent = np.maximum(0.5 * np.einsum("ij,ij->i", a, b) / twice, 1e-3)
            i, j = f[:, (k + 1) % 3], f[:, (k + 2) % 3]
            rows += [i, j]
            cols += [j, i]
            values += [cotangent, cotangent]
        weights = sparse.csr_matrix(
            (np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=(n, n)
        )
        total = np.asarray(weights.sum(axis=1)).ravel()
        tau = 0.25 * scale * scale  # the mean square distance of the spread is 4 tau
        self.area = area
        self.matrix = sparse.diags(area + tau * total) - tau * weights
        self.inverse = 1.0 / (area + tau * total)

    def __call__(self, u: FloatArray) -> FloatArray:
        right = self.area * u
        solution = self._solved(right, u)
        drift = (right.sum() - (self.area * solution).sum()) / self.area.sum()
        return np.asarray(solution + drift)

    def _solved(self, right: FloatArray, u: FloatArray) -> FloatArray:
        """The solution from `u` on, by conjugate gradients (Hestenes & Stiefel 1952) on the diagonal, to 1e-10."""
        solution = np.array(u, dtype=np.float64)
        residual = right - self.matrix @ solution
        direction = np.zeros_like(residual)
        before, goal = np.inf, 1e-20 * dot(right, right)
        for _ in range(500):
            if dot(residual, residual) <= goal:
                break
            scaled = self.inverse * residual
            now = dot(scaled, residual)
            direction = scaled + now / before * direction
            image = self.matrix @ direction
            step = now / dot(direction, image)
            solution += step * direction
            residual -= step * image
            before = now
        return solution
