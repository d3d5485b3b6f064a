"""The wall as finite volumes: one cell around every vertex, one face through every edge."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import robust_laplacian
from numba import njit
from numpy.typing import NDArray
from scipy.optimize import brentq

from evenwall.errors import MeshError
from evenwall.film.equations import LEAST_FILL, LEAST_LIFT, fill_limit, volume_of
from evenwall.film.reach import reach
from evenwall.film.state import Floats
from evenwall.geometry.curvature import curvatures
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.sums import dot
from evenwall.geometry.surface import Surface, area_vectors, corners, is_closed

Indices = NDArray[np.uint32]


FACTOR: Final = 1.25  # by which the nodes' limits are widened or narrowed at most to fill the hollow []


class Wall(NamedTuple):
    """Geometry of n nodes and k edges; edge e joins tail[e] < head[e]."""

    x: Floats  # (n, 3) [m]
    normal: Floats  # (n, 3) unit, into the cavity
    area: Floats  # (n,) Voronoi area [m2]
    mean: Floats  # (n,) H, positive where hollow [1/m]
    gauss: Floats  # (n,) K [1/m2]
    reach: Floats  # (n,) thickness that no liquid passes, inf where no other wall is counted [m]
    limit: Floats  # (n,) the same, widened or narrowed so that full nodes hold the hollow [m]
    brim: Floats  # (n,) its volume per area [m]
    bend: Floats  # (n,) thickness from which the liquid's own surface goes on straight, inf where nowhere [m]
    bent: Floats  # (n,) its volume per area [m]
    tail: Indices  # (k,)
    head: Indices  # (k,)
    weight: Floats  # (k,) length of the face over length of the edge []
    upwind: (
        Indices  # (k, 4) two nodes that span the point opposite head seen from tail, then of tail from head
    )
    span: Floats  # (k, 4) their shares; 0 where there is no such point
    start: Indices  # (n + 1,) edges of node i are edge[start[i]:start[i + 1]]
    edge: Indices  # (2 k,)
    other: Indices  # (2 k,) node at the edge's other end
    sum_weight: Floats  # (n,) sum of its edges' weights []


def build_wall(surface: Surface, *, scale: float = 2e-3, curved: bool = True) -> Wall:
    """Finite volumes on the surface; curvatures are averaged over `scale` [m].

    Weights are those of the intrinsic Delaunay triangulation, none negative (Sharp & Crane, A Laplacian for
    nonmanifold triangle meshes, SGP 2020); a node's area is sum of w l^2/4 over its edges, which makes the
    scheme exact for quadratic potentials on a plane. Works for open surfaces too: their rims let nothing
    through. `curved=False` takes H = K = 0 and lets a film grow without bound, as a thin film's law does.
    """
    n = len(surface.vertices)
    if n < 4 or not len(surface.faces):
        raise MeshError(f"the wall has {n} nodes where at least 4 are needed: use a finer mesh")
    used = np.zeros(n, dtype=bool)
    used[surface.faces.ravel()] = True
    if not used.all():
        raise MeshError(f"{int((~used).sum())} vertices belong to no face: drop them (without_unused)")
    x = surface.vertices
    tail, head, weight, area = _faces_between(surface)
    normal = inward_normals(surface)
    if curved:
        found = curvatures(surface, scale=scale)
        mean, gauss = found.mean, found.gauss
        most = _fill_limits(mean, gauss, LEAST_FILL)
        room = limit = reach(x, normal, most=most)
        if is_closed(surface):
            limit = filling(room, most, mean, gauss, area, enclosed(surface))
        brim = volumes_of(limit, mean, gauss)
        bend = _fill_limits(mean, gauss, LEAST_LIFT)
        bent = np.where(np.isfinite(bend), volumes_of(bend, mean, gauss), np.inf)
    else:
        mean, gauss = np.zeros(n), np.zeros(n)
        room = limit = brim = bend = bent = np.full(n, np.inf)
    start, edge, other = _adjacency(n, tail, head)
    upwind, span = _upwind_points(x, normal, surface.faces, tail.astype(np.uint32), head.astype(np.uint32))
    return Wall(
        x=np.ascontiguousarray(x),
        normal=normal,
        area=area,
        mean=np.ascontiguousarray(mean),
        gauss=np.ascontiguousarray(gauss),
        reach=room,
        limit=limit,
        brim=brim,
        bend=bend,
        bent=bent,
        tail=tail.astype(np.uint32),
        head=head.astype(np.uint32),
        weight=np.ascontiguousarray(weight),
        upwind=upwind,
        span=span,
        start=start,
        edge=edge,
        other=other,
        sum_weight=np.asarray(np.bincount(tail, weight, n) + np.bincount(head, weight, n), dtype=np.float64),
    )


def filling(limit: Floats, most: Floats, mean: Floats, gauss: Floats, area: Floats, hollow: float) -> Floats:
    """The nodes' `limit` (n,) [m], all by one factor more or less, so that they hold the `hollow` [m3] to their brims.

    None goes above `most` (n,) [m], the factor not beyond FACTOR. Curvatures are averaged and balls are found among
    nodes, so that columns hold less than there is, the less the finer the mesh (ammonite, 4,000 to 20,000 nodes: 1 to
    7 %), and a pool would stand as much too high.
    """

    def over(factor: float) -> float:
        return float(dot(area, volumes_of(np.minimum(factor * limit, most), mean, gauss))) - hollow

    least, largest = 1.0 / FACTOR, FACTOR
    if over(least) >= 0.0:
        factor = least
    elif over(largest) <= 0.0:
        factor = largest
    else:
        factor = float(brentq(over, least, largest, xtol=1e-9))
    return np.minimum(factor * limit, most)


def node_areas(surface: Surface) -> Floats:
    """Area (n,) [m2] of every node's finite volume, the same as in `build_wall`."""
    return _faces_between(surface)[3]


def _faces_between(surface: Surface) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, Floats]:
    """Edges' tails, heads and weights (k,), and the nodes' areas (n,) [m2]."""
    n, x = len(surface.vertices), surface.vertices
    laplacian, _ = robust_laplacian.mesh_laplacian(x, surface.faces)
    entries = laplacian.tocoo()
    upper = entries.row < entries.col
    tail, head, weight = entries.row[upper], entries.col[upper], -entries.data[upper]
    kept = weight > 1e-9 * np.abs(weight).max()
    order = np.lexsort((head[kept], tail[kept]))
    tail, head, weight = (array[kept][order] for array in (tail, head, weight))
    length2 = ((x[head] - x[tail]) ** 2).sum(axis=1)
    share = 0.25 * weight * length2
    area = np.bincount(tail, share, n) + np.bincount(head, share, n)
    whole = float(np.linalg.norm(area_vectors(surface), axis=1).sum())
    area = np.maximum(area, 1e-3 * whole / n)
    return tail, head, weight, area * (whole / area.sum())


def inward_normals(surface: Surface) -> Floats:
    """Unit normals (n, 3) at the vertices, into the cavity: face normals weighted by the corners' angles."""
    vectors = area_vectors(surface)
    unit = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-300)[:, None]
    corner = corners(surface)
    normal = np.zeros_like(surface.vertices)
    for k in range(3):
        a = corner[:, (k + 1) % 3] - corner[:, k]
        b = corner[:, (k + 2) % 3] - corner[:, k]
        angle = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("ij,ij->i", a, b))
        for axis in range(3):
            normal[:, axis] -= np.bincount(surface.faces[:, k], angle * unit[:, axis], len(surface.vertices))
    size = np.linalg.norm(normal, axis=1)
    return np.asarray(normal / np.maximum(size, 1e-300)[:, None])


def _adjacency(n: int, tail: NDArray[np.int64], head: NDArray[np.int64]) -> tuple[Indices, Indices, Indices]:
    """Edges of every node in one list: where each node's begin, the edges, the nodes at their other ends."""
    ends = np.concatenate([tail, head]).astype(np.int64)
    others = np.concatenate([head, tail]).astype(np.int64)
    edges = np.tile(np.arange(len(tail)), 2)
    order = np.lexsort((others, ends))
    start = np.concatenate([[0], np.cumsum(np.bincount(ends, minlength=n))])
    return start.astype(np.uint32), edges[order].astype(np.uint32), others[order].astype(np.uint32)


def _upwind_points(
    x: Floats, normal: Floats, faces: NDArray[np.int64], tail: Indices, head: Indices
) -> tuple[Indices, Floats]:
    """For each edge's two ends: the nodes and shares that give a value one edge length further upwind."""
    at = np.argsort(faces.ravel(), kind="stable")
    first = np.concatenate([[0], np.cumsum(np.bincount(faces.ravel(), minlength=len(x)))])
    upwind = np.zeros((len(tail), 4), dtype=np.uint32)
    span = np.zeros((len(tail), 4))
    _find_upwind(x, normal, faces, at // 3, first, tail, head, upwind, span, 0)
    _find_upwind(x, normal, faces, at // 3, first, head, tail, upwind, span, 2)
    return upwind, span


@njit(cache=True)
def volumes_of(h: Floats, mean: Floats, gauss: Floats) -> Floats:
    """Volume per wall area (n,) [m] of the thickness `h` (n,) [m] on curvatures H (n,) [1/m] and K (n,) [1/m2]."""
    volumes = np.empty(h.size)
    for i in range(h.size):
        volumes[i] = volume_of(h[i], mean[i], gauss[i])
    return volumes


@njit(cache=True)
def _fill_limits(mean: Floats, gauss: Floats, least: float) -> Floats:
    limits = np.empty(mean.size)
    for i in range(mean.size):
        limits[i] = fill_limit(mean[i], gauss[i], least)
    return limits


@njit(cache=True)
def _find_upwind(
    x: Floats,
    normal: Floats,
    faces: NDArray[np.int64],
    fan: NDArray[np.int64],
    first: NDArray[np.int64],
    here: Indices,
    there: Indices,
    upwind: Indices,
    span: Floats,
    column: int,
) -> None:
    """Fill columns `column`, `column + 1`: x_i - (x_j - x_i) lies in the fan triangle (i, a, b) of node i."""
    for e in range(here.size):
        i, j = here[e], there[e]
        n0, n1, n2 = normal[i, 0], normal[i, 1], normal[i, 2]
        d0, d1, d2 = x[i, 0] - x[j, 0], x[i, 1] - x[j, 1], x[i, 2] - x[j, 2]
        best = -1e-6
        for k in range(first[i], first[i + 1]):
            face = fan[k]
            a, b = faces[face, 0], faces[face, 1]
            if a == i:
                a, b = faces[face, 1], faces[face, 2]
            elif b == i:
                a, b = faces[face, 2], faces[face, 0]
            a0, a1, a2 = x[a, 0] - x[i, 0], x[a, 1] - x[i, 1], x[a, 2] - x[i, 2]
            b0, b1, b2 = x[b, 0] - x[i, 0], x[b, 1] - x[i, 1], x[b, 2] - x[i, 2]
            whole = n0 * (a1 * b2 - a2 * b1) + n1 * (a2 * b0 - a0 * b2) + n2 * (a0 * b1 - a1 * b0)
            if abs(whole) < 1e-300:
                continue
            s = (n0 * (d1 * b2 - d2 * b1) + n1 * (d2 * b0 - d0 * b2) + n2 * (d0 * b1 - d1 * b0)) / whole
            t = (n0 * (a1 * d2 - a2 * d1) + n1 * (a2 * d0 - a0 * d2) + n2 * (a0 * d1 - a1 * d0)) / whole
            if min(s, t) > best and max(s, t) < 4.0:
                best = min(s, t)
                upwind[e, column], upwind[e, column + 1] = a, b
                span[e, column], span[e, column + 1] = max(s, 0.0), max(t, 0.0)
