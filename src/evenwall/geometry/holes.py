"""Holes of a surface: traced, told apart by size, and closed with triangles between their rim's vertices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenwall.geometry.polygons import ears, flattened
from evenwall.geometry.repair import BoolArray, diagonal
from evenwall.geometry.surface import (
    FloatArray,
    IntArray,
    Surface,
    area_vectors,
    boundary_loops,
    half_edges,
)

_SMALL = 0.1  # a hole up to this share of the piece's diagonal is filled without asking
_MOST_EARS = 1_500  # longer rims are closed by the faster, coarser way


@dataclass(frozen=True, kw_only=True, eq=False)
class Hole:
    """One hole, by its rim."""

    rim: IntArray  # vertices in the order that a new face would run them, (k,)
    middle: FloatArray  # mean of the rim [m], (3,)
    normal: FloatArray  # direction out of the piece, unit length, (3,)
    span: float  # greatest width of the rim [m]
    area: float  # of the rim projected along the normal [m2]
    unevenness: float  # greatest distance of the rim from its mean plane [m]


def holes_of(surface: Surface) -> tuple[Hole, ...]:
    """All holes, the one with the longest rim first."""
    return tuple(_hole(surface.vertices, rim) for rim in boundary_loops(surface) if len(rim) >= 3)


def _hole(vertices: FloatArray, rim: IntArray) -> Hole:
    points = vertices[rim]
    middle = points.mean(axis=0)
    spokes = points - middle
    vector = 0.5 * np.cross(spokes, np.roll(spokes, -1, axis=0)).sum(axis=0)
    area = float(np.linalg.norm(vector))
    normal = vector / area if area > 0.0 else np.array([0.0, 0.0, 1.0])
    return Hole(
        rim=rim,
        middle=middle,
        normal=normal,
        span=_width(points),
        area=area,
        unevenness=float(np.abs(spokes @ normal).max()),
    )


def _width(points: FloatArray) -> float:
    """Greatest width along 13 directions (those of a cube's corners, edges and faces) [m]."""
    grid = np.array([(i, j, k) for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1)], dtype=np.float64)
    directions = grid[14:] / np.linalg.norm(grid[14:], axis=1, keepdims=True)
    return float(np.ptp(points @ directions.T, axis=0).max())


def is_small(hole: Hole, surface: Surface) -> bool:
    """True for a hole that is filled without asking: one missing face, or a tenth of the piece at most."""
    return len(hole.rim) == 3 or hole.span <= _SMALL * diagonal(surface)


def filled(surface: Surface, holes: tuple[Hole, ...]) -> tuple[Surface, tuple[BoolArray, ...]]:
    """The surface with these holes closed, and for each hole which of the new faces close it.

    Triangles join the rim's own vertices; where that would run along an edge that the surface has already,
    a vertex in the middle is added.
    """
    vertices, faces = [surface.vertices], [surface.faces]
    owner = [np.full(len(surface.faces), -1)]
    n = len(surface.vertices)
    existing = _edge_set(surface, holes)
    added = 0
    for index, hole in enumerate(holes):
        new = _triangles(surface.vertices, hole.rim)
        sides = _pairs(half_edges(Surface(surface.vertices, new)))
        rim = _pairs(np.stack([hole.rim, np.roll(hole.rim, -1)], axis=1))
        if (sides - rim) & existing:
            centre = np.full(len(hole.rim), n + added)
            new = np.stack([hole.rim, np.roll(hole.rim, -1), centre], axis=1)
            vertices.append(hole.middle[None])
            added += 1
        existing |= sides
        faces.append(new)
        owner.append(np.full(len(new), index))
    owners = np.concatenate(owner)
    closed = Surface(np.concatenate(vertices), np.concatenate(faces))
    return closed, tuple(np.asarray(owners == index) for index in range(len(holes)))


def _pairs(edges: IntArray) -> set[tuple[int, ...]]:
    return {tuple(pair) for pair in np.sort(edges, axis=1).tolist()}


def _edge_set(surface: Surface, holes: tuple[Hole, ...]) -> set[tuple[int, ...]]:
    """Edges of the surface between vertices that lie on the holes' rims."""
    if not holes:
        return set()
    on_rim = np.zeros(len(surface.vertices), dtype=bool)
    on_rim[np.concatenate([hole.rim for hole in holes])] = True
    e = half_edges(surface)
    return _pairs(e[on_rim[e].all(axis=1)])


def _triangles(vertices: FloatArray, rim: IntArray) -> IntArray:
    if len(rim) <= _MOST_EARS:
        return ears(vertices, rim)
    from manifold3d import triangulate

    found = np.asarray(triangulate([flattened(vertices[rim])], allow_convex=False), dtype=np.int64)
    return np.asarray(rim[found])


def bulges(surface: Surface, holes: tuple[Hole, ...]) -> tuple[FloatArray, FloatArray]:
    """Area [m2] and volume [m3] that each hole's true skin may have beside a flat filling, (k,) each.

    The skin that is missing is taken as the cap of a sphere that meets the faces round the rim smoothly: with
    a of the rim's mean radius and t of the mean angle by which those faces lean out, its height is
    h = a tan(t/2), its area pi (a^2 + h^2), its volume pi h (3 a^2 + h^2)/6 (negative where it is a dent).
    """
    e = half_edges(surface)
    n, m = len(surface.vertices), len(surface.faces)
    key = e[:, 0] * n + e[:, 1]
    order = np.argsort(key)
    rims = np.concatenate([hole.rim for hole in holes])
    ends = np.concatenate([np.roll(hole.rim, -1) for hole in holes])
    owner = np.repeat(np.arange(len(holes)), [len(hole.rim) for hole in holes])
    beside = order[np.searchsorted(key[order], ends * n + rims).clip(max=len(order) - 1)] % m
    vector = area_vectors(surface)[beside]
    unit = vector / np.maximum(np.linalg.norm(vector, axis=1, keepdims=True), 1e-300)
    normal = np.array([hole.normal for hole in holes])[owner]
    out = 0.5 * (surface.vertices[rims] + surface.vertices[ends])
    out -= np.array([hole.middle for hole in holes])[owner]
    radius = np.linalg.norm(out, axis=1)
    out -= np.einsum("ij,ij->i", out, normal)[:, None] * normal
    out /= np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-300)
    lean = np.arctan2(np.einsum("ij,ij->i", unit, out), np.einsum("ij,ij->i", unit, normal))
    many = np.bincount(owner)
    a = np.bincount(owner, radius) / many
    tilt = np.clip(np.bincount(owner, lean) / many, -0.5 * np.pi, 0.5 * np.pi)
    h = a * np.tan(0.5 * tilt)
    return np.pi * h**2, np.pi * h * (3.0 * a**2 + h**2) / 6.0
