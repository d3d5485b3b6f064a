"""How long the edges of a wall shall be where: shorter along its ridges, where a film gets thin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit
from scipy.spatial import cKDTree

from evenwall.geometry.curvature import curvatures
from evenwall.geometry.halfedge import half_edges_of, surface_of
from evenwall.geometry.surface import FloatArray, IntArray, Surface, edges, face_areas
from evenwall.geometry.tidy import split_long

FLAT: Final = (
    0.024  # ridges of a greater radius, and all wall that is flat or hollow, get the longest edges [m]
)
SHARP: Final = 0.003  # ridges of a smaller radius get the shortest ones [m]
SPREAD: Final = 0.003  # length that curvature is averaged over [m]
GROWTH: Final = 100.0  # growth of the relative length along the wall [1/m]
FINEST: Final = 1.5e-3  # the source is looked at with edges of at most this, or half the even edge [m]
LEAST: Final = 1.0e-3  # ridges ask for no shorter edges: a film of 1 mm bends over 1.5 mm [m]
ROUNDS: Final = 200  # of evening the lengths out, at most


@dataclass(frozen=True, kw_only=True)
class Sizing:
    """Relative edge lengths on a surface, read at the nearest of its points."""

    tree: cKDTree  # of the points (n, 3) [m]
    share: FloatArray  # length over that on flat wall, (n,) in (0, 1]
    longest: float  # length on flat wall that gives the wanted count of nodes [m]

    def at(self, points: FloatArray) -> FloatArray:
        """Relative edge length (k,) [] at points (k, 3) [m]."""
        return np.asarray(self.share[self.tree.query(points, workers=-1)[1]])


def sizing(surface: Surface, *, nodes: int, ridges: bool = True) -> Sizing:
    """Edge lengths for a closed wall of about `nodes` vertices on the closed `surface`, even without `ridges`.

    A chord of length L over a curve of radius R departs from it by about L^2/(8 R): the same departure everywhere asks
    for L in proportion to sqrt(R) (Dunyach, Vanderhaeghe, Barthe & Botsch 2013, Adaptive remeshing for real-time mesh
    deformation, Eurographics short papers, equation 2). Here R is that of the wall's ridges alone, -1/k2 where the
    least principal curvature k2 < 0, between SHARP and FLAT: a film drains from ridges and is thinnest on them, and
    pools that gather in sharp hollows ask for short steps on small cells. Lengths grow by at most GROWTH along the
    wall, and are at least LEAST where ridges alone would have them shorter. Example: any ball gets even edges.
    """
    even = float(np.sqrt(2.0 * face_areas(surface).sum() / (np.sqrt(3.0) * nodes)))
    if not ridges:
        return Sizing(tree=cKDTree(surface.vertices[:1]), share=np.ones(1), longest=even)
    looked_at = _split(surface, max(FINEST, 0.5 * even), room=8 * nodes)
    ridge = curvatures(looked_at, scale=SPREAD).ridge
    share = np.sqrt(np.clip(1.0 / np.maximum(ridge, 1e-9), SHARP, FLAT) / FLAT)
    edge, _ = edges(looked_at)
    length = np.linalg.norm(looked_at.vertices[edge[:, 0]] - looked_at.vertices[edge[:, 1]], axis=1)
    _grade(share, edge, GROWTH * length)
    third = np.repeat(face_areas(looked_at) / 3.0, 3)
    area = np.asarray(np.bincount(looked_at.faces.ravel(), third, len(share)), dtype=np.float64)
    longest = _longest(area, share, nodes)
    share = np.maximum(share, min(1.0, LEAST / longest))
    longest = _longest(area, share, nodes)
    return Sizing(tree=cKDTree(looked_at.vertices), share=share, longest=longest)


def _longest(area: FloatArray, share: FloatArray, nodes: int) -> float:
    """Length on flat wall [m] with which areas (n,) [m2] of relative lengths `share` (n,) [] take so many `nodes`."""
    return float(np.sqrt(2.0 / (np.sqrt(3.0) * nodes) * (area / share**2).sum()))


def _split(surface: Surface, longest: float, *, room: int) -> Surface:
    """The same surface with no edge above `longest` [m] as far as the `room` for vertices goes."""
    vertices, faces = len(surface.vertices), len(surface.faces)
    mesh = half_edges_of(
        surface, vertex_room=2 * vertices + room, face_room=2 * faces + 2 * room, wanted=longest
    )
    split_long(mesh, 1.0)
    return surface_of(mesh)


@njit(cache=True)
def _grade(share: FloatArray, edge: IntArray, growth: FloatArray) -> None:
    """Lower the shares until none is greater than a neighbour's by more than the `growth` along their edge."""
    for round_ in range(ROUNDS):
        changed = False
        for k in range(len(edge)):
            e = k if round_ % 2 == 0 else len(edge) - 1 - k
            a, b = edge[e, 0], edge[e, 1]
            if share[a] > share[b] + growth[e]:
                share[a] = share[b] + growth[e]
                changed = True
            elif share[b] > share[a] + growth[e]:
                share[b] = share[a] + growth[e]
                changed = True
        if not changed:
            return
