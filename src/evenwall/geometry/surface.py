"""A triangle surface: its two arrays, and what follows from them by counting."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from evenwall.errors import MeshError

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

EVEN_CELL: Final = math.sqrt(3.0) / 2.0  # a node's area over its squared edge in an even mesh []


@dataclass(frozen=True, eq=False)
class Surface:
    """A triangle surface; its faces run counter-clockwise as seen from outside the piece."""

    vertices: FloatArray  # positions [m], shape (n, 3)
    faces: IntArray  # indices into vertices, shape (m, 3)

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices, dtype=np.float64)
        faces = np.ascontiguousarray(self.faces, dtype=np.int64)
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise MeshError(f"vertices have shape {vertices.shape} where (n, 3) is needed: give x, y, z")
        if faces.ndim != 2 or faces.shape[1] != 3:
            raise MeshError(
                f"faces have shape {faces.shape} where (m, 3) is needed: split them into triangles"
            )
        if faces.size and (faces.min() < 0 or faces.max() >= len(vertices)):
            worst = int(faces.max()) if faces.max() >= len(vertices) else int(faces.min())
            raise MeshError(
                f"a face names vertex {worst} where there are {len(vertices)}: export the mesh again"
            )
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)


def corners(surface: Surface) -> FloatArray:
    """The three corner positions of every face [m], shape (m, 3, 3)."""
    return np.asarray(surface.vertices[surface.faces])


def area_vectors(surface: Surface) -> FloatArray:
    """Outward normal times area of every face [m2], shape (m, 3)."""
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    return np.asarray(0.5 * np.cross(b - a, c - a))


def face_areas(surface: Surface) -> FloatArray:
    """Area of every face [m2], shape (m,)."""
    return np.asarray(np.linalg.norm(area_vectors(surface), axis=1))


def even_edge(area: npt.ArrayLike) -> FloatArray:
    """Edge length [m] of an even triangle mesh with this `area` [m2] to every node: (2 A/3^(1/2))^(1/2)."""
    return np.asarray(np.sqrt(np.asarray(area) / EVEN_CELL))


def surface_samples(surface: Surface, least: int) -> tuple[FloatArray, FloatArray]:
    """About `least` points on the faces or more [m], (k, 3), and the area that each stands for [m2], (k,).

    Where there are more faces than that every so manieth one is taken, by its middle; else all, by their
    middles, corners and edges.
    """
    corner, size = corners(surface), face_areas(surface)
    if len(size) < least:
        share = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 1], [2, 2, 0], [0, 2, 2], [2, 0, 2]]) / [
            [1], [1], [1], [3], [4], [4], [4],
        ]  # fmt: skip
    else:
        chosen = np.linspace(0, len(size) - 1, least).astype(np.int64)
        corner, size, share = corner[chosen], size[chosen], np.full((1, 3), 1.0 / 3.0)
    points = np.einsum("sk,fki->fsi", share, corner).reshape(-1, 3)
    return points, np.repeat(size / len(share), len(share))


def bounds(surface: Surface) -> FloatArray:
    """Least and greatest x, y, z of the vertices that faces use [m], shape (2, 3)."""
    used = np.zeros(len(surface.vertices), dtype=bool)
    used[surface.faces.ravel()] = True
    columns = surface.vertices[used].T.copy()
    return np.array([columns.min(axis=1), columns.max(axis=1)])


def half_edges(surface: Surface) -> IntArray:
    """Directed edges, three a face, first all (0, 1), then all (1, 2), then all (2, 0), shape (3 m, 2)."""
    f = surface.faces
    return np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])


def edge_keys(surface: Surface) -> IntArray:
    """One number for the undirected edge of each of the `half_edges`, the same for all its faces, (3 m,)."""
    e = half_edges(surface)
    return np.asarray(e.min(axis=1) * max(len(surface.vertices), 1) + e.max(axis=1))


def linked(i: IntArray, j: IntArray, count: int) -> tuple[int, IntArray]:
    """How many groups `count` things fall into where each i (k,) is linked with its j (k,), and each one's group."""
    links = coo_matrix((np.ones(len(i)), (i, j)), shape=(count, count))
    groups, group = connected_components(links, directed=False)
    return int(groups), group.astype(np.int64)


def edges(surface: Surface) -> tuple[IntArray, IntArray]:
    """Undirected edges (k, 2), smaller index first, and how many faces use each, (k,)."""
    keys, counts = np.unique(edge_keys(surface), return_counts=True)
    n = max(len(surface.vertices), 1)
    return np.stack([keys // n, keys % n], axis=1), counts.astype(np.int64)


def open_edges(surface: Surface) -> IntArray:
    """Directed edges that only one face uses, as that face runs them, shape (k, 2)."""
    _, inverse, counts = np.unique(edge_keys(surface), return_inverse=True, return_counts=True)
    return np.asarray(half_edges(surface)[counts[inverse] == 1])


def is_closed(surface: Surface) -> bool:
    """True where every edge is run exactly once each way: closed and consistently turned.

    An edge shared by four faces, two each way, counts as closed too.
    """
    if not len(surface.faces):
        return False
    n = len(surface.vertices)
    e = half_edges(surface)
    forward = np.sort(e[:, 0] * n + e[:, 1])
    backward = np.sort(e[:, 1] * n + e[:, 0])
    return bool(np.array_equal(forward, backward))


def boundary_loops(surface: Surface) -> tuple[IntArray, ...]:
    """Loops of vertices along which the surface is open, longest first, each as a new face would run it.

    Where loops touch in a vertex they are parted there, so that none passes a vertex twice.
    """
    following: dict[int, list[int]] = {}
    for start, end in open_edges(surface):
        following.setdefault(int(end), []).append(int(start))
    loops: list[IntArray] = []
    while following:
        path = [next(iter(following))]
        place = {path[0]: 0}
        while path and path[-1] in following:
            here = path[-1]
            nexts = following[here]
            step = nexts.pop()
            if not nexts:
                del following[here]
            if step in place:
                first = place[step]
                loops.append(np.array(path[first:], dtype=np.int64))
                for vertex in path[first + 1 :]:
                    del place[vertex]
                path = path[: first + 1]
            else:
                place[step] = len(path)
                path.append(step)
    return tuple(sorted(loops, key=len, reverse=True))


def transformed(
    surface: Surface, matrix: npt.ArrayLike, *, shift: npt.ArrayLike = (0.0, 0.0, 0.0)
) -> Surface:
    """The surface with every vertex x taken to `matrix` x + `shift`.

    `matrix` is a (3, 3) map without unit, `shift` a vector (3,) [m]. A map that mirrors turns the faces
    round, so that they still run counter-clockwise seen from outside.
    """
    m = np.asarray(matrix, dtype=np.float64)
    vertices = surface.vertices @ m.T + np.asarray(shift, dtype=np.float64)
    faces = surface.faces[:, ::-1] if np.linalg.det(m) < 0 else surface.faces
    return Surface(vertices, faces)


def scaled(surface: Surface, factor: float) -> Surface:
    """The surface with all lengths multiplied by `factor` (a positive number without unit)."""
    if not (np.isfinite(factor) and factor > 0):
        raise MeshError(f"a mesh can't be scaled by {factor}: give a factor above 0")
    return Surface(surface.vertices * factor, surface.faces)


def turned_round(surface: Surface) -> Surface:
    """The surface with inside and outside exchanged."""
    return Surface(surface.vertices, surface.faces[:, ::-1])


def without_unused(surface: Surface) -> Surface:
    """The surface without the vertices that no face uses."""
    used = np.zeros(len(surface.vertices), dtype=bool)
    used[surface.faces.ravel()] = True
    if used.all():
        return surface
    return Surface(surface.vertices[used], (np.cumsum(used) - 1)[surface.faces])


def joined(parts: tuple[Surface, ...]) -> Surface:
    """All parts as one surface, nothing welded."""
    starts = np.cumsum([0, *(len(part.vertices) for part in parts)])
    return Surface(
        np.concatenate([np.zeros((0, 3)), *(part.vertices for part in parts)]),
        np.concatenate(
            [
                np.zeros((0, 3), dtype=np.int64),
                *(part.faces + start for part, start in zip(parts, starts[:-1], strict=True)),
            ]
        ),
    )
