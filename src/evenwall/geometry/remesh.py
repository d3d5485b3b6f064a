"""The wall of the piece as even triangles with a wanted number of nodes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix

from evenwall.errors import MeshError, heed
from evenwall.geometry.halfedge import HalfEdges, half_edges_of, surface_of
from evenwall.geometry.parts import TURNS, equal_parts
from evenwall.geometry.solid import area, volume
from evenwall.geometry.surface import (
    FloatArray,
    Surface,
    area_vectors,
    corners,
    edges,
    even_edge,
    face_areas,
    surface_samples,
)
from evenwall.geometry.tidy import (
    LONG,
    SHORT,
    TINY,
    collapse_short,
    flip_to_delaunay,
    flip_to_six,
    merge_coincident,
    relax,
    remove_peaks,
    split_long,
)
from evenwall.geometry.tree import Tree, closest, tree_of

Stop = Callable[[], bool]  # True: leave off soon

LEAST_NODES = 50
SWEEPS = 8  # sweeps of split, collapse, flip, relax, project
MERGE_FROM = 4  # sweeps after which needles of the source are gone and corners that coincide are a fault
MORE_SWEEPS = 6  # further ones while the node count is off
NEAR = 0.02  # accepted error of the node count while sweeping
FITS = 3  # rounds of fitting the vertices to the tangent planes of the source

TOGETHER = 64  # vertices that are numbered on end at least, near each other

POOR = 0.3  # quality below which a fit must not bring a triangle
TAKEN_BACK = 20  # rounds of halving and taking back moves that spoil triangles


@dataclass(frozen=True, kw_only=True)
class Remeshed:
    """An even wall and how far it departs from the surface it was made from."""

    surface: Surface  # closed, outward, even triangles
    edge: float  # mean edge length [m]
    volume_change: float  # (volume - source's volume) / source's volume []
    area_change: float  # (area - source's area) / source's area []
    lost_p95: float  # 95 % of the source's area lies nearer than this to the new wall [m]
    lost_max: float  # the farthest sample of the source from the new wall [m]
    least_quality: float  # worst triangle: 4 sqrt(3) area / (sum of squared edges), 1 equilateral []


def remesh(surface: Surface, *, nodes: int) -> Remeshed:
    """The `evened` surface, and how far it departs from the one it was made from."""
    current = evened(surface, nodes=nodes)
    lost_p95, lost_max = lost_between(surface, current)
    return Remeshed(
        surface=current,
        edge=float(_edge_lengths(current).mean()),
        volume_change=volume(current) / volume(surface) - 1.0,
        area_change=area(current) / area(surface) - 1.0,
        lost_p95=lost_p95,
        lost_max=lost_max,
        least_quality=float(qualities(current).min()),
    )


def evened(
    surface: Surface,
    *,
    nodes: int,
    progress: Callable[[float], None] | None = None,
    stop: Stop | None = None,
) -> Surface:
    """A closed outward wall of about `nodes` vertices (within 5 %), evenly spaced, on a closed surface.

    The surface may consist of several bodies and have handles, sharp edges and thin parts; its bodies and
    handles stay. Grooves finer than the new edges are lost (`remesh` says by how much). The same input gives
    the same wall. progress(share done []) is called after every sweep, stop() asked after every pass over the
    edges. Raises MeshError where the surface is open or `nodes` is too few, StoppedError once stop() is true.
    """
    if nodes < LEAST_NODES:
        raise MeshError(f"nodes = {nodes}: a wall needs at least {LEAST_NODES}")
    tree = tree_of(surface)
    source_area, source_volume = area(surface), volume(surface)
    wanted = float(even_edge(source_area / nodes))
    current = surface
    for sweep in range(SWEEPS + MORE_SWEEPS):
        current = _sweep(current, wanted, nodes, merge=sweep >= MERGE_FROM, stop=stop)
        current = _projected(current, tree, wanted)
        if progress is not None:
            progress(min(1.0, (sweep + 1) / SWEEPS))
        heed(stop)
        ratio = len(current.vertices) / nodes
        if sweep >= SWEEPS - 1 and abs(ratio - 1.0) < NEAR:
            break
        wanted *= float(np.clip(np.sqrt(ratio), 0.7, 1.4))
    for _ in range(FITS):
        current = _fitted(current, tree, stop)
    current = _flipped(current)
    return _with_volume(current, source_volume)


def qualities(surface: Surface) -> FloatArray:
    """4 sqrt(3) area / (sum of squared edges) of each face, (m,): 1 equilateral, 0 flat.

    Source: Bank & Smith 1997, SIAM J. Numer. Anal. 34, 979-997.
    """
    corner = corners(surface)
    squares = ((corner - corner[:, [1, 2, 0]]) ** 2).sum(axis=(1, 2))
    return np.asarray(4.0 * np.sqrt(3.0) * face_areas(surface) / np.maximum(squares, 1e-300))


def in_order(surface: Surface) -> Surface:
    """The same surface with vertices and faces numbered for loops over nodes and edges.

    Neighbours lie near each other, so that a loop finds them in cache; every quarter of the numbers lies all over
    the wall in parts of TOGETHER, so that threads which take a quarter or half each have as much liquid to do.
    """
    n = len(surface.vertices)
    count = TURNS
    while 2 * count * TOGETHER <= n:
        count *= 2
    parts = equal_parts(surface.vertices, count)
    order = np.concatenate([part for turn in range(TURNS) for part in parts[turn::TURNS]])
    place = np.empty(n, dtype=np.int64)
    place[order] = np.arange(n)
    faces = place[surface.faces]
    return Surface(surface.vertices[order], faces[np.argsort(faces.min(axis=1), kind="stable")])


def lost_between(source: Surface, wall: Surface, *, samples: int = 40_000) -> tuple[float, float]:
    """95 % quantile by area and greatest distance from samples of `source` to `wall` [m]."""
    points, weight = surface_samples(source, samples)
    distance = closest(tree_of(wall), points).distance
    order = np.argsort(distance, kind="stable")
    place = np.searchsorted(np.cumsum(weight[order]), 0.95 * weight.sum())
    return float(distance[order[min(place, len(order) - 1)]]), float(distance.max())


def _sweep(surface: Surface, wanted: float, nodes: int, *, merge: bool, stop: Stop | None) -> Surface:
    """One round of splitting, collapsing, flipping and relaxing towards edges of length `wanted` [m].

    `merge` first joins corners that the sweep before laid on one another in a crease.
    """
    vertices, faces = len(surface.vertices), len(surface.faces)
    mesh = half_edges_of(surface, vertex_room=2 * vertices + 4 * nodes, face_room=2 * faces + 8 * nodes)
    if merge:
        merge_coincident(mesh, TINY * wanted)
    passes: tuple[Callable[[], object], ...] = (
        lambda: collapse_short(mesh, SHORT * wanted, LONG * wanted),
        lambda: split_long(mesh, LONG * wanted),
        lambda: collapse_short(mesh, SHORT * wanted, LONG * wanted),
        lambda: remove_peaks(mesh, SHORT * wanted),
        lambda: flip_to_delaunay(mesh),
        lambda: flip_to_six(mesh),
        lambda: flip_to_six(mesh),
        lambda: relax(mesh, 3),
    )
    for one in passes:
        one()
        heed(stop)
    return surface_of(mesh)


def _flipped(surface: Surface) -> Surface:
    mesh: HalfEdges = half_edges_of(surface, vertex_room=0, face_room=0)
    flip_to_delaunay(mesh)
    return surface_of(mesh)


def vertex_normals(surface: Surface) -> FloatArray:
    """Area-weighted unit normals of the vertices, outwards, (n, 3)."""
    vectors = area_vectors(surface)
    sums = np.stack(
        [
            np.bincount(
                surface.faces.ravel(), weights=np.repeat(vectors[:, k], 3), minlength=len(surface.vertices)
            )
            for k in range(3)
        ],
        axis=1,
    )
    return np.asarray(sums / np.maximum(np.linalg.norm(sums, axis=1, keepdims=True), 1e-300))


def _projected(surface: Surface, tree: Tree, wanted: float) -> Surface:
    """Every vertex at the closest point of the source that faces the same way."""
    near = closest(tree, surface.vertices, facing=vertex_normals(surface), reach=wanted)
    return Surface(near.foot, surface.faces)


def _fitted(surface: Surface, tree: Tree, stop: Stop | None) -> Surface:
    """Every vertex moved to where the tangent planes at its edges' middles meet best.

    On a sphere the planes at half an edge's distance lift the vertices so that the flat faces neither
    cut nor pad the volume; at a sharp edge of the source they draw the vertices onto it.
    """
    edge, _ = edges(surface)
    normal = vertex_normals(surface)
    middle = surface.vertices[edge].mean(axis=1)
    length = float(_edge_lengths(surface).mean())
    near = closest(tree, middle, facing=normal[edge].sum(axis=1), reach=length)
    heed(stop)
    count = len(surface.vertices)
    both = coo_matrix(
        (np.ones(edge.size), (edge.ravel(), np.repeat(np.arange(len(edge)), 2))), shape=(count, len(edge))
    ).tocsr()
    outer = (near.normal[:, :, None] * near.normal[:, None, :]).reshape(-1, 9)
    matrix = (both @ outer).reshape(-1, 3, 3)
    depth = np.einsum("ei,ei->e", near.normal, near.foot)
    right = both @ (near.normal * depth[:, None]) - np.einsum("vij,vj->vi", matrix, surface.vertices)
    weight = np.trace(matrix, axis1=1, axis2=2)
    matrix = matrix + (0.05 * weight + 1e-12)[:, None, None] * np.eye(3)
    move = np.linalg.solve(matrix, right[..., None])[..., 0]
    heed(stop)
    reach = 0.5 * length
    size = np.linalg.norm(move, axis=1, keepdims=True)
    return _held(surface, move * np.minimum(1.0, reach / np.maximum(size, 1e-300)))


def _held(surface: Surface, move: FloatArray) -> Surface:
    """The surface with every vertex moved by `move` (n, 3) [m], less where faces would be spoilt by it.

    A face is spoilt where it turns by over 60 degrees, or falls below a quality of POOR and below what it had.
    """
    before, quality = area_vectors(surface), qualities(surface)
    floor = np.minimum(POOR, 0.9 * quality)
    size = np.linalg.norm(before, axis=1)
    share = np.ones(len(move))
    for _ in range(TAKEN_BACK):
        moved = Surface(surface.vertices + share[:, None] * move, surface.faces)
        after = area_vectors(moved)
        along = np.einsum("ij,ij->i", before, after)
        spoilt = (qualities(moved) < floor) | (along < 0.5 * size * np.linalg.norm(after, axis=1))
        spoilt &= (share[surface.faces] > 0.0).any(axis=1)
        if not spoilt.any():
            return moved
        held = np.unique(surface.faces[spoilt])
        share[held] = np.where(share[held] > 0.3, 0.5 * share[held], 0.0)
    return surface


def _with_volume(surface: Surface, wanted: float) -> Surface:
    """The surface moved along its normals by one small distance so that it encloses the wanted volume."""
    for _ in range(3):
        shift = (wanted - volume(surface)) / area(surface)
        surface = Surface(surface.vertices + shift * vertex_normals(surface), surface.faces)
    return surface


def _edge_lengths(surface: Surface) -> FloatArray:
    """Length of each edge [m], (k,)."""
    edge, _ = edges(surface)
    return np.asarray(np.linalg.norm(surface.vertices[edge[:, 0]] - surface.vertices[edge[:, 1]], axis=1))
