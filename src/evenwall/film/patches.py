"""The linear system on patches of the wall: one unknown each, which levels the long waves of a pool.

Jacobi's preconditioner passes a change on by one node an iteration, a pool is dozens of nodes wide. The coarse
correction adds what the same equations say of whole patches: M^-1 r = D^-1 r + Z E^-1 Z^T r, E = Z^T K Z, Z = 1 on
a patch's nodes (Nicolaides, SIAM J. Numer. Anal. 24 (1987) 355; Notay, Electron. Trans. Numer. Anal. 37 (2010) 123).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet

MOST: Final = 256  # patches
LEAST_NODES: Final = 32  # in a patch

Indices = NDArray[np.uint32]


class Patches(NamedTuple):
    """n nodes in m patches; what a step fills in is for the active rows only."""

    start: Indices  # (m + 1,) nodes of patch g are node[start[g]:start[g + 1]]
    node: Indices  # (n,)
    of_node: Indices  # (n,)
    of_row: Indices  # (n,)
    row: Indices  # (n,) active rows of patch g, from start[g]
    rows: Indices  # (m,) how many
    number: Indices  # (m + 1,) of the patch among those with active rows; the last entry is how many they are
    matrix: Floats  # (m, m) E^T of those, then its factors L and U
    total: Floats  # (m,) Z^T r
    level: Floats  # (BLOCKS, m) E^-1 Z^T r, for each thread its own


def new_patches(x: Floats, normal: Floats, area: float) -> Patches:
    """Patches of equally many nodes, near each other and on the same side of a wall of `area` [m2].

    `x` (n, 3) [m] and `normal` (n, 3) are the nodes'.
    """
    n = len(x)
    count = 1
    while 2 * count <= min(MOST, n // LEAST_NODES):
        count *= 2
    features = np.hstack([x, np.sqrt(area / count) * normal])
    parts = [np.arange(n)]
    while len(parts) < count:
        parts = [half for part in parts for half in _halves(part, features)]
    of_node = np.empty(n, dtype=np.uint32)
    for patch, part in enumerate(parts):
        of_node[part] = patch
    return Patches(
        start=np.cumsum([0, *(len(part) for part in parts)]).astype(np.uint32),
        node=np.concatenate([np.sort(part) for part in parts]).astype(np.uint32),
        of_node=of_node,
        of_row=np.zeros(n, dtype=np.uint32),
        row=np.zeros(n, dtype=np.uint32),
        rows=np.zeros(count, dtype=np.uint32),
        number=np.zeros(count + 1, dtype=np.uint32),
        matrix=np.zeros((count, count)),
        total=np.zeros(count),
        level=np.zeros((BLOCKS, count)),
    )


def _halves(part: NDArray[np.int64], features: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """A part cut in two across its longest extent."""
    along = features[part, np.argmax(np.ptp(features[part], axis=0))]
    order = np.argsort(along, kind="stable")
    return part[order[: len(part) // 2]], part[order[len(part) // 2 :]]


@njit(cache=True)
def factorize(matrix: Floats, m: int) -> None:
    """L and U of the first m rows in their place, without pivoting; most entries are 0 and many stay so."""
    for k in range(m):
        if not matrix[k, k] > 0.0:
            matrix[k, k] = np.inf  # what cannot be levelled is left alone
        for i in range(k + 1, m):
            if matrix[i, k] != 0.0:
                factor = matrix[i, k] / matrix[k, k]
                matrix[i, k] = factor
                for j in range(k + 1, m):
                    matrix[i, j] -= factor * matrix[k, j]


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def levelled(team: Team, patches: Patches, residual: Floats) -> Floats:
    """E^-1 Z^T r of every patch, for the residual (rows,) that all threads have written.

    E = U^T L^T is solved a row of factors at a time: fast though no sum is reordered. Sums that may be come out
    otherwise in each copy of a kernel, and which copy runs depends on what else the process has compiled or loaded.
    """
    every = patches.total.size
    m = patches.number[every]
    matrix = patches.matrix
    level: Floats = patches.level[team.rank]
    low, high = blocks(team)
    meet(team)
    for g in range(every * low // BLOCKS, every * high // BLOCKS):
        if patches.rows[g] > 0:
            total = 0.0
            for k in range(patches.start[g], patches.start[g] + patches.rows[g]):
                total += residual[patches.row[k]]
            patches.total[patches.number[g]] = total
    meet(team)
    for i in range(m):
        level[i] = patches.total[i]
    for i in range(m):
        value = level[i] / matrix[i, i]
        level[i] = value
        for j in range(i + 1, m):
            level[j] -= value * matrix[i, j]
    for back in range(m):
        i = m - 1 - back
        value = level[i]
        for j in range(i):
            level[j] -= value * matrix[i, j]
    return level
