"""Half-edges of a closed surface, and the three local changes: split, collapse and flip of an edge.

Half-edge h belongs to face h // 3 and runs from `origin[h]` to the origin of the next one in that face;
`twin[h]` runs the same edge the other way; `out[v]` is one half-edge that starts at vertex v.
A face or vertex that was removed has origin or out -1.
Source: Campagna, Kobbelt & Seidel 1998, journal of graphics tools 3(4) 1-11.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from evenwall.errors import MeshError
from evenwall.geometry.surface import FloatArray, IntArray, Surface, linked

BoolArray = npt.NDArray[np.bool_]


class HalfEdges(NamedTuple):
    """A closed surface that can be changed in place; the arrays are longer than what is in use."""

    place: FloatArray  # vertex positions [m], (vertex room, 3)
    out: IntArray  # a half-edge that starts at each vertex, (vertex room,)
    origin: IntArray  # the vertex where each half-edge starts, (3 face room,)
    twin: IntArray  # the half-edge of the same edge in the other face, (3 face room,)
    used: IntArray  # vertices and faces in use, removed ones included, (2,)


def half_edges_of(surface: Surface, *, vertex_room: int, face_room: int) -> HalfEdges:
    """Half-edges of a closed surface, with room for further vertices and faces.

    Where more than two faces share an edge, those that bound the same solid wedge are paired, and where
    parts of the wall only touch in a vertex each part gets its own vertex: the surface stays as it is
    in space and becomes a manifold. Raises MeshError where an edge has no partner.
    """
    faces = len(surface.faces)
    start = surface.faces.reshape(-1)
    twin = _pair(surface)
    here = np.arange(3 * faces)
    following = twin[here - here % 3 + (here + 2) % 3]
    count, fan = linked(here, following, len(here))
    place = np.zeros((max(vertex_room, count), 3))
    out = np.full(len(place), -1, dtype=np.int64)
    place[fan] = surface.vertices[start]
    out[fan] = here
    room = max(face_room, faces)
    origin = np.full(3 * room, -1, dtype=np.int64)
    twins = np.full(3 * room, -1, dtype=np.int64)
    origin[: 3 * faces] = fan
    twins[: 3 * faces] = twin
    return HalfEdges(place, out, origin, twins, np.array([count, faces], dtype=np.int64))


def surface_of(mesh: HalfEdges) -> Surface:
    """The surface as it stands, without what was removed."""
    faces = mesh.origin[: 3 * mesh.used[1]].reshape(-1, 3)
    faces = faces[faces[:, 0] >= 0]
    alive = np.zeros(mesh.used[0], dtype=bool)
    alive[faces.ravel()] = True
    return Surface(mesh.place[: mesh.used[0]][alive], (np.cumsum(alive) - 1)[faces])


def _pair(surface: Surface) -> IntArray:
    """The twin of every half-edge of a closed surface."""
    start = surface.faces
    end = start[:, [1, 2, 0]]
    low, high = np.minimum(start, end).reshape(-1), np.maximum(start, end).reshape(-1)
    if np.any(low == high):
        raise MeshError("a face names a vertex twice: repair the mesh before its wall is remeshed")
    forward = (start < end).reshape(-1)
    order = np.lexsort((forward, high, low))
    key = low[order] * len(surface.vertices) + high[order]
    first = np.flatnonzero(np.diff(key, prepend=-1))
    size = np.diff(np.append(first, len(key)))
    backward = np.add.reduceat(~forward[order], first)
    if np.any(2 * backward != size):
        raise MeshError(
            f"{int(np.sum(2 * backward != size))} edges of the wall have no partner: close the surface first"
        )
    twin = np.empty(len(key), dtype=np.int64)
    plain = first[size == 2]
    twin[order[plain]], twin[order[plain + 1]] = order[plain + 1], order[plain]
    for begin, many in zip(first[size > 2], size[size > 2], strict=True):
        _pair_wedges(surface, order[begin : begin + many], forward, twin)
    return twin


def _pair_wedges(surface: Surface, sharing: IntArray, forward: BoolArray, twin: IntArray) -> None:
    """Pair the half-edges that share one edge, each with the one across the solid beside it.

    Seen along the edge, solid lies before a face that runs the edge forwards and after one that runs it
    backwards: like brackets, a backward one opens a wedge of solid and a forward one closes it.
    """
    start = surface.faces.reshape(-1)
    corner = sharing - sharing % 3
    across = surface.vertices[start[corner + (sharing + 2) % 3]]
    one = int(np.flatnonzero(forward[sharing])[0])
    base = surface.vertices[start[sharing[one]]]
    axis = surface.vertices[start[corner[one] + (sharing[one] + 1) % 3]] - base
    axis = axis / max(float(np.linalg.norm(axis)), 1e-300)
    arms = across - base
    first = arms[0] - (arms[0] @ axis) * axis
    angle = np.arctan2(arms @ np.cross(axis, first), arms @ first)
    ring = sharing[np.lexsort((forward[sharing], angle))]
    depth = np.cumsum(np.where(forward[ring], -1, 1))
    waiting: list[int] = []
    for half in np.roll(ring, -(int(np.argmin(depth)) + 1)):
        if forward[half]:
            other = waiting.pop()
            twin[half], twin[other] = other, half
        else:
            waiting.append(int(half))


@njit(cache=True)
def after(h: int) -> int:
    """The half-edge that follows h around its face."""
    return h - 2 if h % 3 == 2 else h + 1


@njit(cache=True)
def before(h: int) -> int:
    """The half-edge that precedes h around its face."""
    return h + 2 if h % 3 == 0 else h - 1


@njit(cache=True)
def split_edge(mesh: HalfEdges, h: int) -> int:
    """Put a vertex in the middle of the edge of h and an edge to both opposite corners; returns it."""
    origin, twin, out = mesh.origin, mesh.twin, mesh.out
    g = twin[h]
    hn, hp, gn, gp = after(h), before(h), after(g), before(g)
    a, b, c, d = origin[h], origin[g], origin[hp], origin[gp]
    v = mesh.used[0]
    i = 3 * mesh.used[1]
    j = i + 3
    mesh.used[0] += 1
    mesh.used[1] += 2
    for k in range(3):
        mesh.place[v, k] = 0.5 * (mesh.place[a, k] + mesh.place[b, k])
    origin[i], origin[i + 1], origin[i + 2] = v, b, c
    origin[j], origin[j + 1], origin[j + 2] = v, a, d
    origin[hn], origin[gn] = v, v
    _join(twin, i + 1, twin[hn])
    _join(twin, j + 1, twin[gn])
    _join(twin, h, j)
    _join(twin, g, i)
    _join(twin, hn, i + 2)
    _join(twin, gn, j + 2)
    out[v], out[a], out[b], out[c], out[d] = hn, h, g, hp, gp
    return int(v)


@njit(cache=True)
def flip_edge(mesh: HalfEdges, h: int) -> None:
    """Turn the edge of h so that it joins the two corners opposite to it."""
    origin, twin, out = mesh.origin, mesh.twin, mesh.out
    g = twin[h]
    hn, hp, gn, gp = after(h), before(h), after(g), before(g)
    a, b, c, d = origin[h], origin[g], origin[hp], origin[gp]
    thn, thp, tgn, tgp = twin[hn], twin[hp], twin[gn], twin[gp]
    origin[h], origin[hn], origin[hp] = d, c, a
    origin[g], origin[gn], origin[gp] = c, d, b
    _join(twin, hn, thp)
    _join(twin, hp, tgn)
    _join(twin, gn, tgp)
    _join(twin, gp, thn)
    out[a], out[b], out[c], out[d] = hp, gp, hn, gn


@njit(cache=True)
def collapse_edge(mesh: HalfEdges, h: int) -> None:
    """Merge the vertex where h starts into the one where it ends, which stays where it is."""
    origin, twin, out = mesh.origin, mesh.twin, mesh.out
    g = twin[h]
    hn, hp, gn, gp = after(h), before(h), after(g), before(g)
    a, b, c, d = origin[h], origin[g], origin[hp], origin[gp]
    k = h
    while True:
        origin[k] = b
        k = twin[before(k)]
        if k == h:
            break
    thn, thp, tgn, tgp = twin[hn], twin[hp], twin[gn], twin[gp]
    _join(twin, thn, thp)
    _join(twin, tgn, tgp)
    for k in (h, hn, hp, g, gn, gp):
        origin[k] = -1
        twin[k] = -1
    out[a], out[b], out[c], out[d] = -1, thp, thn, tgn


@njit(cache=True)
def keeps_topology(mesh: HalfEdges, h: int, seen: IntArray) -> bool:
    """True where the ends of h share no neighbours but the two opposite corners, each of valence above 3.

    Then collapsing h leaves a manifold of the same genus (the link condition, Dey et al. 1999).
    `seen` is a work array, one entry a vertex.
    """
    origin, twin = mesh.origin, mesh.twin
    a, b = origin[h], origin[twin[h]]
    c, d = origin[before(h)], origin[before(twin[h])]
    if a == b or c == d or valence(mesh, c) <= 3 or valence(mesh, d) <= 3:
        return False
    k = h
    while True:
        seen[origin[twin[k]]] = h
        k = twin[before(k)]
        if k == h:
            break
    shared = 0
    start = twin[h]
    k = start
    while True:
        if seen[origin[twin[k]]] == h:
            shared += 1
        k = twin[before(k)]
        if k == start:
            break
    k = h
    while True:
        seen[origin[twin[k]]] = -1
        k = twin[before(k)]
        if k == h:
            break
    return shared == 2


@njit(cache=True)
def valence(mesh: HalfEdges, v: int) -> int:
    """Number of edges at vertex v."""
    count = 0
    start = mesh.out[v]
    k = start
    while True:
        count += 1
        k = mesh.twin[before(k)]
        if k == start:
            return count


@njit(cache=True)
def joins(mesh: HalfEdges, c: int, d: int) -> bool:
    """True where an edge between vertices c and d exists."""
    start = mesh.out[c]
    k = start
    while True:
        if mesh.origin[mesh.twin[k]] == d:
            return True
        k = mesh.twin[before(k)]
        if k == start:
            return False


@njit(cache=True)
def _join(twin: IntArray, h: int, g: int) -> None:
    twin[h] = g
    twin[g] = h
