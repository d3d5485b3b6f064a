"""Repairs of a triangle mesh that need no answer: each can be refused by name and says what it changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from evenwall.geometry.surface import (
    FloatArray,
    IntArray,
    Surface,
    area_vectors,
    bounds,
    edge_keys,
    face_areas,
    half_edges,
    linked,
    open_edges,
    without_unused,
)

BoolArray = npt.NDArray[np.bool_]

WELD: Final = "weld equal vertices"
SEW: Final = "sew open seams"
DROP_FLAT: Final = "drop faces without area"
FLIP_FLAT: Final = "flip faces without area"
DROP_DOUBLE: Final = "drop double faces"
DROP_SHEETS: Final = "drop loose sheets"
TURN_ALIKE: Final = "turn faces alike"
TURN_OUT: Final = "turn inside out"
DROP_SCRAPS: Final = "drop scraps"
FILL: Final = "fill small holes"
REBUILD: Final = "rebuild the wall"
NAMES: Final = (
    WELD, SEW, DROP_FLAT, FLIP_FLAT, DROP_DOUBLE, DROP_SHEETS, TURN_ALIKE, TURN_OUT, DROP_SCRAPS, FILL,
    REBUILD,
)  # fmt: skip

_SEAM: Final = 1e-4  # widest seam that is sewn, share of the piece's diagonal
_FLAT: Final = 1e-12  # a face is flat where its height is below this share of the piece's diagonal


@dataclass(frozen=True, kw_only=True)
class Repair:
    """One repair: what it was done to, and what it changed."""

    name: str  # one of NAMES: refuse it by this name
    count: int  # how many of `what`
    what: str  # "vertices", "faces", "holes", "bodies"
    area_change: float  # area after less area before [m2]
    volume_change: float  # volume after less before, seen from `middle` (0 for a flat patch) [m3]
    middle: tuple[float, float, float]  # middle of what changed [m]
    span: float  # diagonal of the box round what changed [m]


Step = tuple[Surface, Repair | None]


def repair(
    name: str, before: Surface, after: Surface, *, count: int, what: str, places: FloatArray
) -> Repair:
    """The record of one repair; `places` (k, 3) [m] are the points that it touched."""
    low, high = places.min(axis=0), places.max(axis=0)
    middle = 0.5 * (low + high)
    return Repair(
        name=name,
        count=count,
        what=what,
        area_change=float(face_areas(after).sum() - face_areas(before).sum()),
        volume_change=volume_from(after, middle) - volume_from(before, middle),
        middle=(float(middle[0]), float(middle[1]), float(middle[2])),
        span=float(np.linalg.norm(high - low)),
    )


def volume_from(surface: Surface, eye: FloatArray) -> float:
    """Volume swept from the point `eye` (3,) [m] to all faces, outward positive [m3]."""
    if not len(surface.faces):
        return 0.0
    return float(np.einsum("ij,ij", area_vectors(surface), surface.vertices[surface.faces[:, 0]] - eye) / 3.0)


def diagonal(surface: Surface) -> float:
    """Diagonal of the box round the surface [m]."""
    box = bounds(surface)
    return float(np.linalg.norm(box[1] - box[0]))


def welded(surface: Surface) -> Surface:
    """The surface with every position kept once, and without unused vertices.

    Positions are told apart by a hash of their bits (sorting 8 bytes instead of rows of 24).
    """
    vertices = surface.vertices + 0.0  # -0.0 becomes 0.0
    first, inverse = _first_of_equal(vertices)
    return without_unused(Surface(vertices[first], inverse[surface.faces]))


def _first_of_equal(vertices: FloatArray) -> tuple[IntArray, IntArray]:
    """Index of the first of each group of equal rows, and each row's group."""
    bits = np.ascontiguousarray(vertices).view(np.uint64)
    mixed = np.zeros(len(vertices), dtype=np.uint64)
    for column in range(3):
        mixed = (mixed ^ bits[:, column]) * np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(29)
    _, first, inverse = np.unique(mixed, return_index=True, return_inverse=True)
    if not np.array_equal(vertices[first][inverse], vertices):  # two positions share a hash
        _, first, inverse = np.unique(vertices, axis=0, return_index=True, return_inverse=True)
    return first.astype(np.int64), inverse.reshape(-1).astype(np.int64)


def weld(surface: Surface) -> Step:
    """Keep every position once; what is counted are the vertices that this spares."""
    after = welded(surface)
    spared = len(without_unused(surface).vertices) - len(after.vertices)
    if not spared:
        return after, None
    return after, repair(WELD, surface, after, count=spared, what="vertices", places=after.vertices)


def sew(surface: Surface) -> Step:
    """Join vertices of open edges that lie closer than a ten-thousandth of the piece and a fifth of an edge.

    Done only where it leaves fewer open edges.
    """
    rim = open_edges(surface)
    if not len(rim):
        return surface, None
    vertices = surface.vertices
    lengths = np.linalg.norm(vertices[rim[:, 0]] - vertices[rim[:, 1]], axis=1)
    reach = min(_SEAM * diagonal(surface), 0.2 * float(np.median(lengths)))
    on_rim = np.unique(rim)
    pairs = cKDTree(vertices[on_rim]).query_pairs(reach, output_type="ndarray")
    if not len(pairs):
        return surface, None
    _, group = linked(pairs[:, 0], pairs[:, 1], len(on_rim))
    _, first = np.unique(group, return_index=True)
    target = np.arange(len(vertices))
    target[on_rim] = on_rim[first[group]]
    moved = np.flatnonzero(target != np.arange(len(vertices)))
    after = without_unused(Surface(vertices, _whole(target[surface.faces])))
    if len(open_edges(after)) >= len(rim):
        return surface, None
    return after, repair(SEW, surface, after, count=len(moved), what="vertices", places=vertices[moved])


def _whole(faces: IntArray) -> IntArray:
    """Faces with three different corners."""
    a, b, c = faces.T
    return np.asarray(faces[(a != b) & (b != c) & (c != a)])


def drop_flat(surface: Surface) -> Step:
    """Drop faces without area: repeated corners always, three in a line unless their neighbours need them."""
    flat = _is_flat(surface)
    if not flat.any():
        return surface, None
    a, b, c = surface.faces.T
    repeated = (a == b) | (b == c) | (c == a)
    drop = flat.copy()
    while True:
        # a flat face is needed where an edge without it has no partner left and had one with it
        kept = Surface(surface.vertices, surface.faces[~drop])
        lone = _keys_used_once(kept)
        waiting = drop & ~repeated
        needed = waiting & np.isin(_face_keys(surface), lone).any(axis=1)
        if not needed.any():
            break
        drop &= ~needed
    if not drop.any():
        return surface, None
    after = without_unused(Surface(surface.vertices, surface.faces[~drop]))
    places = surface.vertices[surface.faces[drop]].reshape(-1, 3)
    return after, repair(DROP_FLAT, surface, after, count=int(drop.sum()), what="faces", places=places)


def _is_flat(surface: Surface) -> BoolArray:
    corner = surface.vertices[surface.faces]
    longest = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(axis=1)
    height = 2.0 * face_areas(surface)  # times the longest side
    return np.asarray(height <= _FLAT * diagonal(surface) * longest)


def _face_keys(surface: Surface) -> IntArray:
    """Key of each face's three edges, shape (m, 3)."""
    return edge_keys(surface).reshape(3, -1).T


def _keys_used_once(surface: Surface) -> IntArray:
    keys, counts = np.unique(_face_keys(surface), return_counts=True)
    return np.asarray(keys[counts == 1])


def flip_flat(surface: Surface) -> Step:
    """Take away faces of three corners in a line by flipping their longest edge into the neighbour.

    The surface stays where it is: the neighbour's edge gets the middle corner it lacked.
    """
    flat = np.flatnonzero(_is_flat(surface))
    if not len(flat):
        return surface, None
    faces = surface.faces.copy()
    owners: dict[tuple[int, int], int] = {}
    for index, face in enumerate(faces.tolist()):
        for k in range(3):
            owners[face[k], face[(k + 1) % 3]] = index
    flipped = [int(f) for f in flat if _flip_one(surface.vertices, faces, owners, int(f))]
    if not flipped:
        return surface, None
    after = Surface(surface.vertices, faces)
    places = surface.vertices[faces[flipped]].reshape(-1, 3)
    return after, repair(FLIP_FLAT, surface, after, count=len(flipped), what="faces", places=places)


def _flip_one(vertices: FloatArray, faces: IntArray, owners: dict[tuple[int, int], int], at: int) -> bool:
    corner = faces[at].tolist()
    sides = [float(np.linalg.norm(vertices[corner[k]] - vertices[corner[(k + 1) % 3]])) for k in range(3)]
    k = int(np.argmax(sides))
    start, end, tip = corner[k], corner[(k + 1) % 3], corner[(k + 2) % 3]
    other = owners.get((end, start))
    if other is None or other == at:
        return False
    far = next((v for v in faces[other].tolist() if v not in (start, end)), tip)
    if far == tip or (tip, far) in owners or (far, tip) in owners:
        return False
    # (start, end, tip) and (end, start, far) become (start, far, tip) and (far, end, tip)
    faces[at], faces[other] = (start, far, tip), (far, end, tip)
    del owners[start, end], owners[end, start]
    for index in (at, other):
        face = faces[index].tolist()
        for j in range(3):
            owners[face[j], face[(j + 1) % 3]] = index
    return True


def drop_double(surface: Surface) -> Step:
    """Drop faces that are given more than once.

    Of a face given twice one stays where its edges then have two faces each; where they would have none
    or two without both (a wall between two touching bodies) both go.
    """
    ordered = np.sort(surface.faces, axis=1)
    n = len(surface.vertices)
    pair = ordered[:, 0] * n + ordered[:, 1]
    order = np.lexsort((ordered[:, 2], pair))
    same = (np.diff(pair[order]) == 0) & (np.diff(ordered[order, 2]) == 0)
    if not same.any():
        return surface, None
    keep = np.ones(len(surface.faces), dtype=bool)
    keep[order[1:][same]] = False  # one of each group stays for now
    single = Surface(surface.vertices, surface.faces[keep])
    keys, counts = np.unique(_face_keys(single), return_counts=True)
    doubled = np.zeros(len(keep), dtype=bool)
    doubled[order[:-1][same]] = True
    doubled &= keep
    uses = counts[np.searchsorted(keys, _face_keys(surface)[doubled])]
    keep[np.flatnonzero(doubled)[(uses >= 3).sum(axis=1) >= 2]] = False
    after = without_unused(Surface(surface.vertices, surface.faces[keep]))
    places = surface.vertices[surface.faces[~keep]].reshape(-1, 3)
    return after, repair(DROP_DOUBLE, surface, after, count=int((~keep).sum()), what="faces", places=places)


def faces_alike(surface: Surface) -> tuple[BoolArray, IntArray]:
    """Which faces must be turned so that neighbours agree, and the patch each face belongs to.

    Patches hang together over edges of exactly two faces. In each the fewer faces (by area) are turned.
    A patch with one side only (a Möbius band) is left as it is.
    """
    m = len(surface.faces)
    key = edge_keys(surface)
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=-1))
    counts = np.diff(starts, append=len(order))
    h = order[starts[counts == 2]]
    g = order[starts[counts == 2] + 1]
    e = half_edges(surface)
    against = e[h, 0] == e[g, 0]  # both run it the same way: one must be turned
    i, j = h % m, g % m
    patches, patch = linked(i, j, m)
    if not against.any():
        return np.zeros(m, dtype=bool), patch
    _, side = linked(
        np.concatenate([i, i + m]),
        np.concatenate([np.where(against, j + m, j), np.where(against, j, j + m)]),
        2 * m,
    )
    side_as_is, side_turned = side[:m], side[m:]
    one_sided = side_as_is == side_turned
    lower = side_as_is < side_turned
    areas = face_areas(surface)
    score = np.bincount(patch, np.where(lower, areas, -areas), minlength=patches)
    return np.asarray(np.where(score[patch] >= 0, ~lower, lower) & ~one_sided), patch


def turn_alike(surface: Surface) -> Step:
    """Turn faces that run against their neighbours."""
    turn, _ = faces_alike(surface)
    if not turn.any():
        return surface, None
    faces = surface.faces.copy()
    faces[turn] = faces[turn][:, ::-1]
    after = Surface(surface.vertices, faces)
    places = surface.vertices[faces[turn]].reshape(-1, 3)
    return after, repair(TURN_ALIKE, surface, after, count=int(turn.sum()), what="faces", places=places)
