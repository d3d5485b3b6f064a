"""Narrow hollows of the mold wall where air stays, and ridges that stand into the cavity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from evenwall.geometry.curvature import curvatures
from evenwall.geometry.remesh import vertex_normals
from evenwall.geometry.surface import FloatArray, Surface, edges, face_areas
from evenwall.geometry.tree import Tree, closest, first_hit, tree_of

NARROW: Final = 6.0e-3  # a hollow narrower than this keeps air (common practice, no source) [m]
FILLS: Final = 105.0  # a crease opener than this fills by itself [deg]
LEAST: Final = 4.0e-6  # a smaller place is no larger than a bubble [m2]
CREASE: Final = 2.0e-3  # length over which a crease is averaged [m]
BALLS: Final = 14  # balls tried at a node, each smaller than the one before

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A narrow hollow or a ridge, a connected patch of the wall."""

    position: FloatArray  # its innermost node, (3,) [m]
    width: float  # median width of its nodes [m]
    depth: float  # along the wall from its rim to its innermost node [m]
    area: float  # of its wall [m2]
    nodes: npt.NDArray[np.int64]  # of the wall, (k,)


@dataclass(frozen=True, kw_only=True)
class Pockets:
    """Narrow hollows and ridges of a wall with n nodes."""

    width: FloatArray  # width of the cavity at each node, inf where over twice `narrow`, (n,) [m]
    rubber: FloatArray  # the same of the mold between two parts of the wall, (n,) [m]
    narrow: Mask  # nodes of the narrow hollows, (n,)
    ridge: Mask  # nodes of the ridges, (n,)
    hollows: tuple[Place, ...]  # where air stays, the most important first
    ridges: tuple[Place, ...]  # where the coat stays thinnest, the most important first


def pockets(wall: Surface, *, narrow: float = NARROW, fills: float = FILLS) -> Pockets:
    """Narrow hollows and ridges of a closed wall whose nodes stand a good deal closer than `narrow` [m].

    The width at a node is the diameter of the largest ball in the cavity that touches the wall there (Ma, Bae
    & Choi 2012, The Visual Computer 28, 7-19), or of the hollow's own roundness where that is less. A node is
    narrow where this is below `narrow`; a ridge is the same seen from the mold's side. Creases that open
    wider than `fills` [deg] do not count, liquid that sweeps over them leaves no air: a groove keeps air where
    the advancing contact angle is greater than its angle (Bankoff 1958, AIChE J. 4, 24-26, from memory).
    Example: a fin 2 mm thick is 2 mm wide all over, a pin 4 mm across 4 mm.
    """
    tree = tree_of(wall)
    normals = vertex_normals(wall)
    meets = np.deg2rad(180.0 - fills)
    hollow, crest = _creases(wall)
    width = np.minimum(_gap(tree, wall.vertices, -normals, narrow, meets), hollow)
    rubber = np.minimum(_gap(tree, wall.vertices, normals, narrow, meets), crest)
    inside, outside = width < narrow, rubber < narrow
    hollows, ridges = _places(wall, inside, width), _places(wall, outside, rubber)
    return Pockets(
        width=width,
        rubber=rubber,
        narrow=_mask(len(width), hollows),
        ridge=_mask(len(width), ridges),
        hollows=hollows,
        ridges=ridges,
    )


def node_areas(wall: Surface) -> FloatArray:
    """Each node's third of its faces' areas, (n,) [m2]."""
    return np.asarray(
        np.bincount(wall.faces.ravel(), np.repeat(face_areas(wall) / 3.0, 3), len(wall.vertices)), float
    )


def _creases(wall: Surface) -> tuple[FloatArray, FloatArray]:
    """Diameters of roundness of the wall as a hollow and as a ridge, inf where it is neither, (n,) each [m].

    k1 = H + sqrt(H^2 - K) and k2 = H - sqrt(H^2 - K), averaged over CREASE and over twice that: a crease
    loses half of its curvature between the two, roughness of a scan loses nearly all and is left out.
    """
    fine, coarse = (_principal(wall, scale) for scale in (CREASE, 2.0 * CREASE))
    diameters = []
    for sharp, wide in zip(fine, coarse, strict=True):
        lasting = np.minimum(sharp, 2.5 * np.maximum(wide, 0.0))
        diameters.append(np.divide(2.0, lasting, out=np.full(len(lasting), np.inf), where=lasting > 0.0))
    return diameters[0], diameters[1]


def _principal(wall: Surface, scale: float) -> tuple[FloatArray, FloatArray]:
    """The larger principal curvature, and minus the smaller one, (n,) each [1/m].

    K counts down to -3 H^2 only: below that stand folded triangles of a flat wall.
    """
    curved = curvatures(wall, scale=scale)
    gauss = np.maximum(curved.gauss, -3.0 * curved.mean**2)
    spread = np.sqrt(np.maximum(curved.mean**2 - gauss, 0.0))
    return np.asarray(curved.mean + spread), np.asarray(spread - curved.mean)


def _gap(tree: Tree, points: FloatArray, towards: FloatArray, largest: float, meets: float) -> FloatArray:
    """Diameter of the largest ball that touches the wall at each point from the side `towards`, (n,) [m].

    The first ball has the radius `largest` [m] or reaches to what a ray meets; then each ball is made
    smaller until no wall stands inside it. Wall that is seen from the ball's middle within `meets` [rad]
    of the point itself is the point's own side.
    """
    skip = 1e-6 * float(np.ptp(points, axis=0).max())
    radius = np.minimum(largest, 0.5 * first_hit(tree, points, towards, skip=skip))
    alive = np.arange(len(points))
    for _ in range(BALLS):
        if not alive.size:
            break
        start, direction, r = points[alive], towards[alive], radius[alive]
        middle = start + direction * r[:, None]
        near = closest(tree, middle)
        across = near.foot - start
        depth = np.einsum("ij,ij->i", across, direction)
        away = np.einsum("ij,ij->i", near.foot - middle, -direction) / np.maximum(near.distance, 1e-300)
        inside = (near.distance < 0.998 * r) & (depth > 0.0)
        inside &= np.arccos(np.clip(away, -1.0, 1.0)) > meets
        alive = alive[inside]
        radius[alive] = np.einsum("ij,ij->i", across[inside], across[inside]) / (2.0 * depth[inside])
    return np.asarray(np.where(radius < largest, 2.0 * radius, np.inf))


def _places(wall: Surface, chosen: Mask, width: FloatArray) -> tuple[Place, ...]:
    """The connected patches of the chosen nodes; the important ones are large, deep and narrow."""
    area = node_areas(wall)
    edge, _ = edges(wall)
    length = np.linalg.norm(wall.vertices[edge[:, 0]] - wall.vertices[edge[:, 1]], axis=1)
    n = len(wall.vertices)
    both = chosen[edge].all(axis=1)
    graph = csr_array(coo_array((length[both], (edge[both, 0], edge[both, 1])), shape=(n, n)))
    _, patch = connected_components(graph, directed=False)
    rim = np.zeros(n, dtype=bool)
    rim[edge[chosen[edge].sum(axis=1) == 1].ravel()] = True
    rim &= chosen
    depth = np.full(n, np.inf)
    if rim.any():
        depth = dijkstra(graph, directed=False, indices=np.flatnonzero(rim), min_only=True)
    nodes = np.flatnonzero(chosen)
    order = nodes[np.argsort(patch[nodes], kind="stable")]
    parts = np.split(order, np.flatnonzero(np.diff(patch[order])) + 1) if len(order) else []
    found = [_place(wall, part, width, depth, area) for part in parts if area[part].sum() >= LEAST]
    return tuple(sorted(found, key=lambda place: -place.area * place.depth / place.width))


def _place(
    wall: Surface, nodes: npt.NDArray[np.int64], width: FloatArray, depth: FloatArray, area: FloatArray
) -> Place:
    """One patch; a piece that is narrow all over has no rim, its depth is half its extent."""
    deep = np.where(np.isfinite(depth[nodes]), depth[nodes], 0.5 * np.ptp(wall.vertices[nodes], axis=0).max())
    innermost = nodes[np.lexsort((width[nodes], -deep))[0]]
    return Place(
        position=wall.vertices[innermost],
        width=float(np.median(width[nodes])),
        depth=float(deep.max()),
        area=float(area[nodes].sum()),
        nodes=nodes,
    )


def _mask(count: int, places: tuple[Place, ...]) -> Mask:
    mask = np.zeros(count, dtype=bool)
    for place in places:
        mask[place.nodes] = True
    return mask
