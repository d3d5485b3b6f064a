"""The stiff rows of the linear system solved exactly on patches of the wall that overlap, each by itself.

Where a pool stands, or a node is full, the diagonal passes a change on by one node an iteration. Instead
M^-1 r = K_g^-1 r on the stiff rows of every patch g and of RINGS of nodes round it, of which the patch's own are told,
and D^-1 r elsewhere (restricted additive Schwarz: Cai & Sarkis, SIAM J. Sci. Comput. 21 (1999) 792, from memory). K_g
leaves bending out but for its share of the diagonal, so that it is an M-matrix and needs no pivot; in Cuthill and
McKee's order it is a narrow band. How the patches lie hangs on axes and numbers, and shows in what the solver leaves,
so they serve only where the diagonal alone takes long.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import reverse_cuthill_mckee

from evenwall.film.operators import Wall
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, meet
from evenwall.geometry.parts import equal_parts

LEAST_NODES: Final = 128  # in a patch, and twice as many at most
RINGS: Final = 2  # of nodes round a patch that are solved with it []
STIFFER: Final = 4.0  # what a row solved with its patch has on the diagonal, of what it has of its own []
LANES: Final = 8  # numbers that are taken at once; bands are padded to multiples of it

Indices = NDArray[np.uint32]
Counts = NDArray[np.int64]
Singles = NDArray[np.float32]


class Patches(NamedTuple):
    """n nodes in m patches, k with those round each; what a step fills in is for the active rows only."""

    start: Counts  # (m + 1,) nodes of patch g, and those round it, are node[start[g]:start[g + 1]]
    node: Indices  # (k,)
    inner: Indices  # (k,) 1 where it is a patch's own node, 0 where it lies round it
    first: Counts  # (m + 1,) where a patch's entries begin
    row: Indices  # (k,) stiff rows of patch g, from start[g]
    own: Indices  # (k,) 1 where that row is the patch's own
    rows: Counts  # (m,) how many
    width: Counts  # (m,) entries on either side of the diagonal in a patch's band
    solved: Indices  # (n,) 1 where a row is solved with its patch
    at: Counts  # (BLOCKS, n) place of a row among the stiff ones of the patch that a thread is at, n for the others
    band: Singles  # K_g^T of the stiff rows, 2 width + 1 entries a row, then its factors L and U with 1/U_ii
    held: Singles  # (BLOCKS, j) right sides and solutions of the patch that a thread is at, between zeros


def new_patches(wall: Wall) -> Patches:
    """Patches of equally many nodes, near each other and on the same side of the wall, with RINGS round each."""
    n = len(wall.area)
    count = 1
    while 2 * count <= n // LEAST_NODES:
        count *= 2
    features = np.hstack([wall.x, np.sqrt(wall.area.sum() / count) * wall.normal])
    joined = sparse.csr_array(
        (np.ones(len(wall.other)), wall.other.astype(np.int64), wall.start.astype(np.int64)), shape=(n, n)
    )
    nodes, inner, widths = [], [], []
    for part in equal_parts(features, count):
        grown = part
        for _ in range(RINGS):
            grown = np.union1d(grown, joined[grown].indices)
        within = joined[grown][:, grown]
        order = reverse_cuthill_mckee(within, symmetric_mode=True)
        nodes.append(grown[order])
        inner.append(np.isin(grown[order], part))
        one, other = (np.argsort(order)[ends] for ends in within.nonzero())
        widths.append(padded(int(np.abs(one - other).max(initial=0))))
    sizes = np.array([len(part) for part in nodes])
    first = np.cumsum([0, *(sizes * (2 * np.array(widths) + 1))])
    return Patches(
        start=np.cumsum([0, *sizes]),
        node=np.concatenate(nodes).astype(np.uint32),
        inner=np.concatenate(inner).astype(np.uint32),
        first=first,
        row=np.zeros(sizes.sum(), dtype=np.uint32),
        own=np.zeros(sizes.sum(), dtype=np.uint32),
        rows=np.zeros(count, dtype=np.int64),
        width=np.zeros(count, dtype=np.int64),
        solved=np.zeros(n, dtype=np.uint32),
        at=np.full((BLOCKS, n), n, dtype=np.int64),
        band=np.zeros(first[-1], dtype=np.float32),
        held=np.zeros((BLOCKS, sizes.max() + 2 * max(widths)), dtype=np.float32),
    )


@njit(cache=True)
def padded(width: int) -> int:
    """The next multiple of LANES."""
    return (width + LANES - 1) // LANES * LANES


@njit(cache=True)
def take(target: Singles, t: int, source: Singles, s: int, times: float, count: int) -> None:
    """target[t:t + count] -= times source[s:s + count]."""
    goal, given = target[t : t + count], source[s : s + count]
    for c in range(count):
        goal[c] -= times * given[c]


@njit(cache=True)
def factorize(band: Singles, rows: int, width: int) -> None:
    """L and U of a band matrix of `rows` rows of 2 `width` + 1 entries in its place, 1/U_ii on the diagonal."""
    stride = 2 * width + 1
    for k in range(rows):
        own = k * stride + width
        pivot = band[own]
        band[own] = 1.0 / pivot if pivot > 0.0 else 0.0  # what can't be solved is left alone
        for i in range(k + 1, min(k + width + 1, rows)):
            here = i * stride + width - (i - k)
            if band[here] != 0.0:
                band[here] *= band[own]
                take(band, here + 1, band, own + 1, band[here], width)


@njit(cache=True)
def unfold(band: Singles, rows: int, width: int, held: Singles) -> None:
    """held[width:width + rows] = K^-1 of it for the factors L, U of K^T, and `width` zeros on either side.

    U^T L^T x = r, a row of factors at a time, so that no sum is reordered.
    """
    stride = 2 * width + 1
    for i in range(rows):
        own = i * stride + width
        value = held[width + i] * band[own]
        held[width + i] = value
        take(held, width + i + 1, band, own + 1, value, width)
    for back in range(rows):
        i = rows - 1 - back
        take(held, i, band, i * stride, held[width + i], width)


@njit(cache=True)
def solve_patches(team: Team, patches: Patches, residual: Floats, out: Floats) -> None:
    """out = K_g^-1 residual on every patch's stiff rows, for a residual that all threads have written.

    No meeting at its end: the other rows are nobody's here.
    """
    meet(team)
    held = patches.held[team.rank]
    for g in range(team.rank, patches.rows.size, team.size):
        rows, width, start = patches.rows[g], patches.width[g], patches.start[g]
        if rows == 0:
            continue
        for i in range(width):
            held[i] = held[width + rows + i] = 0.0
        for i in range(rows):
            held[width + i] = residual[patches.row[start + i]]
        unfold(patches.band[patches.first[g] : patches.first[g + 1]], rows, width, held)
        for i in range(rows):
            if patches.own[start + i]:
                out[patches.row[start + i]] = held[width + i]
