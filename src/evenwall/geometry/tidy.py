"""Sweeps over the edges of a closed surface that make its triangles even and of a wanted size.

Source: Botsch & Kobbelt 2004, A remeshing approach to multiresolution modeling, section 4: split edges
above 4/3 of the wanted length, collapse those below 4/5, flip towards six edges a vertex, relax tangentially.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from evenwall.geometry.halfedge import (
    HalfEdges,
    after,
    before,
    collapse_edge,
    flip_edge,
    joins,
    keeps_topology,
    split_edge,
    valence,
)
from evenwall.geometry.surface import FloatArray

LONG = 4.0 / 3.0  # edges above this share of the wanted length are split
SHORT = 4.0 / 5.0  # edges below this share are collapsed
TINY = 1e-2  # the ends of edges below this share coincide
FIRST = 0.99  # an edge is split where no other of its two faces is longer than it over this
FOLD = 0.2  # cosine below which a collapse turns a face too far
EDGED = 0.1  # a vertex whose flatness is lower by this is an edge or a tip and outlives the other
LOOSE = 0.9  # vertices whose faces all lean less than this cosine relax freely, others less, down to
HELD = 0.75  # where they stay: edges, tips and the rims of thin parts
UNFOLDS = 8  # rounds of taking back moves that turn a face over
SHARP = 0.5  # cosine between two faces below which their edge is a feature and isn't flipped
FEWEST = 4  # edges that a vertex keeps when one is flipped


@njit(cache=True)
def split_long(mesh: HalfEdges, longest: float) -> int:
    """Halve edges until none is above `longest` [m] or the room is used up; returns how many.

    An edge's turn comes when no other edge of its two faces is longer: splitting in any other order breeds
    slivers without end, this one keeps half of the smallest angle (Rivara 1984, Int. J. Numer. Methods Eng.
    20, 745-756).
    """
    count = 0
    while True:
        split = 0
        for h in range(3 * mesh.used[1]):
            if mesh.used[0] + 1 > len(mesh.out) or 3 * mesh.used[1] + 6 > len(mesh.origin):
                return count
            if mesh.origin[h] < 0:
                continue
            square = _square(mesh, h)
            if square > longest * longest and square >= FIRST * FIRST * _longest_beside(mesh, h):
                split_edge(mesh, h)
                split += 1
        count += split
        if split == 0:
            return count


@njit(cache=True)
def _longest_beside(mesh: HalfEdges, h: int) -> float:
    """Squared length of the longest other edge of the two faces at h."""
    g = mesh.twin[h]
    one = max(_square(mesh, after(h)), _square(mesh, before(h)))
    return float(max(one, _square(mesh, after(g)), _square(mesh, before(g))))


@njit(cache=True)
def collapse_short(mesh: HalfEdges, shortest: float, longest: float) -> int:
    """Collapse edges below `shortest` [m] where no edge above `longest` [m] and no fold comes of it."""
    seen = np.full(len(mesh.out), -1, np.int64)
    flatness = _flatness(mesh)
    count = 0
    for h in range(3 * mesh.used[1]):
        if mesh.origin[h] < 0 or _square(mesh, h) >= shortest * shortest:
            continue
        g = mesh.twin[h]
        tilt = flatness[mesh.origin[h]] - flatness[mesh.origin[g]]
        first = h if tilt >= 0.0 else g
        for k in (first, mesh.twin[first]):
            if k != first and abs(tilt) > EDGED:
                break
            if keeps_topology(mesh, k, seen) and _collapse_fits(mesh, k, longest):
                collapse_edge(mesh, k)
                count += 1
                break
    return count


@njit(cache=True)
def merge_coincident(mesh: HalfEdges, shortest: float) -> int:
    """Collapse edges below `shortest` [m], a length of no account, whatever folds: their faces have no direction."""
    seen = np.full(len(mesh.out), -1, np.int64)
    count = 0
    for h in range(3 * mesh.used[1]):
        if mesh.origin[h] >= 0 and _square(mesh, h) < shortest * shortest and keeps_topology(mesh, h, seen):
            collapse_edge(mesh, h)
            count += 1
    return count


@njit(cache=True)
def remove_peaks(mesh: HalfEdges, highest: float) -> int:
    """Leave one face where three meet at a vertex of three edges; returns how many.

    Such a vertex has a third of its neighbours' area, and where it stands up its faces fold on one another. One that
    stands over `highest` [m] above the plane of its neighbours is the tip of a thin part and stays.
    """
    seen = np.full(len(mesh.out), -1, np.int64)
    count = 0
    for v in range(mesh.used[0]):
        h = mesh.out[v]
        if h < 0 or valence(mesh, v) != 3 or not keeps_topology(mesh, h, seen):
            continue
        k = mesh.twin[before(h)]
        a, b = mesh.place[mesh.origin[after(h)]], mesh.place[mesh.origin[after(k)]]
        c = mesh.place[mesh.origin[before(k)]]
        base, p = _normal(a, b, c), mesh.place[v]
        up = _dot(base, (p[0] - a[0], p[1] - a[1], p[2] - a[2]))
        if up * up <= highest * highest * _dot(base, base):
            collapse_edge(mesh, h)
            count += 1
    return count


@njit(cache=True)
def flip_to_six(mesh: HalfEdges) -> int:
    """Flip edges where that brings the four valences around nearer to six; returns how many."""
    count = 0
    for h in range(3 * mesh.used[1]):
        g = mesh.twin[h]
        if mesh.origin[h] < 0 or g < h:
            continue
        va, vb = valence(mesh, mesh.origin[h]), valence(mesh, mesh.origin[g])
        vc, vd = valence(mesh, mesh.origin[before(h)]), valence(mesh, mesh.origin[before(g)])
        now = (va - 6) ** 2 + (vb - 6) ** 2 + (vc - 6) ** 2 + (vd - 6) ** 2
        then = (va - 7) ** 2 + (vb - 7) ** 2 + (vc - 5) ** 2 + (vd - 5) ** 2
        if then < now and va > FEWEST and vb > FEWEST and _flip_fits(mesh, h, 0.5):
            flip_edge(mesh, h)
            count += 1
    return count


@njit(cache=True)
def flip_to_delaunay(mesh: HalfEdges) -> int:
    """Flip edges whose two opposite angles sum to over 180 degrees (the cotangent weight is negative)."""
    total = 0
    for _ in range(10):
        count = 0
        for h in range(3 * mesh.used[1]):
            g = mesh.twin[h]
            if mesh.origin[h] < 0 or g < h or _cotangent(mesh, h) + _cotangent(mesh, g) > -1e-9:
                continue
            steady = min(valence(mesh, mesh.origin[h]), valence(mesh, mesh.origin[g])) > FEWEST
            if steady and _flip_fits(mesh, h, 0.0):
                flip_edge(mesh, h)
                count += 1
        total += count
        if count == 0:
            break
    return total


@njit(cache=True)
def relax(mesh: HalfEdges, rounds: int) -> None:
    """Move every vertex within its tangent plane to the area-weighted centre of its faces, `rounds` times.

    A move that would turn a face over is taken back.
    """
    size = mesh.used[0]
    for _ in range(rounds):
        before_it = mesh.place[:size].copy()
        centre = np.zeros((size, 3))
        normal = np.zeros((size, 3))
        weight = np.zeros(size)
        for h in range(0, 3 * mesh.used[1], 3):
            if mesh.origin[h] < 0:
                continue
            i, j, k = mesh.origin[h], mesh.origin[h + 1], mesh.origin[h + 2]
            a, b, c = mesh.place[i], mesh.place[j], mesh.place[k]
            n = np.cross(b - a, c - a)
            area = np.sqrt(np.dot(n, n))
            middle = (a + b + c) / 3.0
            for v in (i, j, k):
                weight[v] += area
                centre[v] += area * middle
                normal[v] += n
        flattest = np.ones(size)
        for h in range(0, 3 * mesh.used[1], 3):
            if mesh.origin[h] < 0:
                continue
            i, j, k = mesh.origin[h], mesh.origin[h + 1], mesh.origin[h + 2]
            n = np.cross(mesh.place[j] - mesh.place[i], mesh.place[k] - mesh.place[i])
            length = np.sqrt(np.dot(n, n))
            for v in (i, j, k):
                both = length * np.sqrt(np.dot(normal[v], normal[v]))
                flattest[v] = min(flattest[v], np.dot(n, normal[v]) / max(both, 1e-300))
        for v in range(size):
            square = np.dot(normal[v], normal[v])
            if weight[v] > 0.0 and square > 0.0:
                move = centre[v] / weight[v] - mesh.place[v]
                free = (flattest[v] - HELD) / (LOOSE - HELD)
                mesh.place[v] += (
                    0.8 * min(max(free, 0.0), 1.0) * (move - np.dot(move, normal[v]) / square * normal[v])
                )
        for _ in range(UNFOLDS):
            if not _take_back_folds(mesh, before_it):
                break


@njit(cache=True)
def _take_back_folds(mesh: HalfEdges, before_it: FloatArray) -> int:
    """Put the corners of every face that turned over back to where they were; returns how many faces."""
    place, origin = mesh.place, mesh.origin
    turned = 0
    for h in range(0, 3 * mesh.used[1], 3):
        if origin[h] < 0:
            continue
        i, j, k = origin[h], origin[h + 1], origin[h + 2]
        was = _normal(before_it[i], before_it[j], before_it[k])
        if _dot(was, _normal(place[i], place[j], place[k])) < 0.0:
            turned += 1
            for v in (i, j, k):
                place[v] = before_it[v]
    return turned


@njit(cache=True)
def _flatness(mesh: HalfEdges) -> FloatArray:
    """Length of the sum of the area vectors around each vertex over the sum of their lengths, 1 if flat."""
    normal = np.zeros((mesh.used[0], 3))
    weight = np.zeros(mesh.used[0])
    for h in range(0, 3 * mesh.used[1], 3):
        if mesh.origin[h] < 0:
            continue
        n = _normal(
            mesh.place[mesh.origin[h]], mesh.place[mesh.origin[h + 1]], mesh.place[mesh.origin[h + 2]]
        )
        for k in range(3):
            weight[mesh.origin[h + k]] += np.sqrt(_dot(n, n))
            normal[mesh.origin[h + k], 0] += n[0]
            normal[mesh.origin[h + k], 1] += n[1]
            normal[mesh.origin[h + k], 2] += n[2]
    return np.asarray(np.sqrt((normal**2).sum(axis=1)) / np.maximum(weight, 1e-300))


@njit(cache=True)
def _square(mesh: HalfEdges, h: int) -> float:
    """Squared length of an edge."""
    a, b = mesh.place[mesh.origin[h]], mesh.place[mesh.origin[mesh.twin[h]]]
    return float((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)


@njit(cache=True)
def _normal(a: FloatArray, b: FloatArray, c: FloatArray) -> tuple[float, float, float]:
    """Cross product of two edges of a triangle."""
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    return uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


@njit(cache=True)
def _dot(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@njit(cache=True)
def triangle_quality(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    """4 sqrt(3) area / (sum of squared edges): 1 equilateral, 0 flat (Bank & Smith 1997)."""
    n = _normal(a, b, c)
    squares = 0.0
    for k in range(3):
        squares += (a[k] - b[k]) ** 2 + (b[k] - c[k]) ** 2 + (c[k] - a[k]) ** 2
    if squares == 0.0:
        return 0.0
    return float(2.0 * np.sqrt(3.0) * np.sqrt(_dot(n, n)) / squares)


@njit(cache=True)
def _collapse_fits(mesh: HalfEdges, h: int, longest: float) -> bool:
    """True where merging the start of h into its end folds no face and stretches no edge too far."""
    place, origin, twin = mesh.place, mesh.origin, mesh.twin
    a, b = place[origin[h]], place[origin[twin[h]]]
    k = twin[before(h)]
    while k != h:
        x, y = place[origin[after(k)]], place[origin[before(k)]]
        reach = (x[0] - b[0]) ** 2 + (x[1] - b[1]) ** 2 + (x[2] - b[2]) ** 2
        if reach > longest * longest:
            return False
        if origin[after(k)] != origin[twin[h]] and origin[before(k)] != origin[twin[h]]:
            old, new = _normal(a, x, y), _normal(b, x, y)
            size = np.sqrt(_dot(old, old) * _dot(new, new))
            was, will = triangle_quality(a, x, y), triangle_quality(b, x, y)
            if will < 0.1 and will < was:
                return False
            if was > 1e-6 and _dot(old, new) < FOLD * size:
                return False
        k = twin[before(k)]
    return True


@njit(cache=True)
def _flip_fits(mesh: HalfEdges, h: int, keep: float) -> bool:
    """True where flipping the edge of h doubles no edge, turns no face and keeps `keep` of the quality."""
    origin = mesh.origin
    g = mesh.twin[h]
    ic, jd = origin[before(h)], origin[before(g)]
    if ic == jd or joins(mesh, ic, jd):
        return False
    a, b, c, d = mesh.place[origin[h]], mesh.place[origin[g]], mesh.place[ic], mesh.place[jd]
    one, two = _normal(a, b, c), _normal(b, a, d)
    if _dot(one, two) < SHARP * np.sqrt(_dot(one, one) * _dot(two, two)):
        return False
    both = (one[0] + two[0], one[1] + two[1], one[2] + two[2])
    if _dot(_normal(a, d, c), both) <= 0.0 or _dot(_normal(d, b, c), both) <= 0.0:
        return False
    was = min(triangle_quality(a, b, c), triangle_quality(b, a, d))
    return bool(min(triangle_quality(a, d, c), triangle_quality(d, b, c)) >= keep * was)


@njit(cache=True)
def _cotangent(mesh: HalfEdges, h: int) -> float:
    """Cotangent of the angle opposite to h in its face."""
    a, b = mesh.place[mesh.origin[h]], mesh.place[mesh.origin[after(h)]]
    c = mesh.place[mesh.origin[before(h)]]
    n = _normal(c, a, b)
    dot = 0.0
    for k in range(3):
        dot += (a[k] - c[k]) * (b[k] - c[k])
    return float(dot / max(np.sqrt(_dot(n, n)), 1e-300))
