"""The linear system of one implicit stage, set up only where the film is stiff.

Unknown are the change y of v and the change p of Psi at every active node. With both the rows reach the next nodes
only; without p, that of a film's curvature would reach two nodes far. Every kernel does its thread's share and ends
with a meeting of the team.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import reverse_cuthill_mckee

from evenwall.film.flux import Work
from evenwall.film.operators import Indices, Wall
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share, whole

STIFF: Final = 0.5  # implicit where step times stiffness is above this []
LUMPED: Final = 0.5  # share of what the factors leave out that their diagonal takes up []
WEAK: Final = 1e-12  # entries weaker than this are none []
LEAST_PIVOT: Final = 0.1  # determinant of a pivot below which the row's own block is taken instead []

# row of the team's partial sums
COUNT: Final = 0
# places in a row's bounds: entries of earlier rows in other blocks, then in the row's own, then of later rows
# in its own, then in other blocks
FIRST, LOWER, UPPER, BEYOND, END = range(5)


class System(NamedTuple):
    """Rows of the active nodes, in an order in which neighbours are near each other. n nodes, k edges.

    Row i is free of units, with A* = A + step D where node i gives, S = dPsi_i/dv_i, c = step times the sum of C,
    size = A* + c S and pressures told as p' = p c/size:
    (A*/size) y + p' + sum of (d y_j + l p'_j) = right/size and -(c S/size) y + p' + sum of b y_j = 0.
    """

    order: Indices  # (n,) all nodes so that neighbours are near each other
    begin: Indices  # (n + 1,) in that order, where a node's edges begin
    edge: Indices  # (2 k,) edges of every node
    near: Indices  # (2 k,) nodes at their other ends, in that order
    place: Indices  # (n,) a node's row, or n where it is not active
    node: Indices  # (n,) a row's node
    rank: Indices  # (n,) a row's node's place in the order
    marked: Indices  # (n,) 1 where the film is stiff
    bounds: Indices  # (n, 5) where a row's entries begin and end, see FIRST to END
    column: Indices  # (2 k,) row of the entry's node
    entries: NDArray[np.float32]  # (2 k, 3) d, l, b []
    size: Floats  # (n,) of the row [m2]
    own: Floats  # (n,) A*/size []
    weight: Floats  # (n,) c/size: p'/p [m/Pa]
    unweight: Floats  # (n,) size/c, 0 where c is 0 [Pa/m]
    pivot: NDArray[np.float32]  # (n, 4) inverse of the factors' diagonal block []
    above: Floats  # (n, 3) sums of a row's entries of later rows in its block []
    solution: Floats  # (n + 1,) y; the last entry stays 0
    pressure: Floats  # (n + 1,) p; the last entry stays 0
    right: Floats  # (n,)
    vectors: NDArray[np.float32]  # (7, n, 2) of the solver
    iterations: Floats  # (1,) that the solver took, -1 where it did not get there


def new_system(wall: Wall) -> System:
    """Empty arrays for the wall."""
    n, both = len(wall.area), len(wall.other)
    start = wall.start.astype(np.int64)
    links = sparse.csr_array((np.ones(both), wall.other.astype(np.int32), start.astype(np.int32)), (n, n))
    order = np.asarray(reverse_cuthill_mckee(links, symmetric_mode=True))
    rank = np.empty(n, dtype=np.int64)
    rank[order] = np.arange(n)
    by = np.lexsort((rank[wall.other], np.repeat(rank, np.diff(start))))
    return System(
        order=order.astype(np.uint32),
        begin=np.concatenate([[0], np.cumsum(np.diff(start)[order])]).astype(np.uint32),
        edge=wall.edge[by],
        near=wall.other[by],
        place=np.full(n, n, dtype=np.uint32),
        node=np.zeros(n, dtype=np.uint32),
        rank=np.zeros(n, dtype=np.uint32),
        marked=np.zeros(n, dtype=np.uint32),
        bounds=np.zeros((n, 5), dtype=np.uint32),
        column=np.zeros(both, dtype=np.uint32),
        entries=np.zeros((both, 3), dtype=np.float32),
        size=np.zeros(n),
        own=np.zeros(n),
        weight=np.zeros(n),
        unweight=np.zeros(n),
        pivot=np.zeros((n, 4), dtype=np.float32),
        above=np.zeros((n, 3)),
        solution=np.zeros(n + 1),
        pressure=np.zeros(n + 1),
        right=np.zeros(n),
        vectors=np.zeros((7, n, 2), dtype=np.float32),
        iterations=np.zeros(1),
    )


@njit(cache=True)
def choose_active(team: Team, wall: Wall, work: Work, system: System, sigma: float, step: float) -> int:
    """Marks nodes whose own stiffness times `step` [s] is above STIFF, and their neighbours; gives their count."""
    n = wall.area.size
    place, marked, order = system.place, system.marked, system.order
    first, last = share(team, n)
    for i in range(first, last):
        own = work.stiffness[i] if work.stiffness[i] >= 0.0 else -work.stiffness[i]
        capillary = 2.0 * sigma * work.lift[i] * work.lift[i] * wall.sum_weight[i] / wall.area[i]
        stiffness = (2.0 * work.conductance[i] * (own + capillary) + work.slide[i]) / wall.area[i]
        marked[i] = 1 if step * stiffness > STIFF else 0
    meet(team)
    low, high = blocks(team)
    for block in range(low, high):
        count = 0
        for at in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            i = order[at]
            place[i] = n
            near = marked[i]
            for k in range(system.begin[at], system.begin[at + 1]):
                near |= marked[system.near[k]] & 1
            if near:
                place[i] = 0
                count += 1
        team.sums[COUNT, block] = count
    meet(team)
    row = 0
    for block in range(low):
        row += int(team.sums[COUNT, block])
    for at in range(first, last):
        i = order[at]
        if place[i] == 0:
            place[i] = row
            system.node[row] = i
            system.rank[row] = at
            row += 1
    active = int(whole(team, COUNT))
    meet(team)
    return active


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def assemble(
    team: Team, wall: Wall, work: Work, system: System, active: int, sigma: float, step: float
) -> None:
    """Rows of A y + step [C (p_i - p_j) + D y_donor] = right, p = dPsi/dv y, for the active nodes.

    Where liquid hangs Psi falls with v; that is left to the explicit part: its growth, taken implicitly, has a pole
    where step times rate is 1 (Eyre, MRS Proc. 529 (1998) 39: what is convex implicitly, what is concave explicitly).
    """
    n = wall.area.size
    first, last = share(team, active)
    for row in range(first, last):
        i = system.node[row]
        stiff = max(work.stiffness[i], 0.0)
        stiff += sigma * work.lift[i] * work.lift[i] * wall.sum_weight[i] / wall.area[i]
        own = wall.area[i] + step * work.slide[i]
        size = own + step * work.conductance[i] * stiff
        conductance = step * work.conductance[i]
        system.size[row] = size
        system.own[row] = own / size
        system.weight[row] = conductance / size
        system.unweight[row] = size / conductance if conductance > 0.0 else 0.0
    meet(team)
    low, high = blocks(team)
    for block in range(low, high):
        begin, end = active * block // BLOCKS, active * (block + 1) // BLOCKS
        for row in range(begin, end):
            i = system.node[row]
            bend = system.weight[row] * sigma * work.lift[i] / wall.area[i]
            per_size = step / system.size[row]
            at = system.begin[system.rank[row]]
            bounds = system.bounds[row]
            bounds[:] = at
            for k in range(at, system.begin[system.rank[row] + 1]):
                j = system.near[k]
                other = system.place[j]
                if other == n:
                    continue
                e = system.edge[k]
                drag = work.drag[e] if j > i else -work.drag[e]  # of what goes out
                system.column[at] = other
                passed, pushed = (
                    per_size * min(drag, 0.0),
                    -per_size * work.coupling[e] * system.unweight[other],
                )
                bent = bend * wall.weight[e] * work.lift[j]
                system.entries[at, 0] = passed if passed < -WEAK else 0.0
                system.entries[at, 1] = pushed if pushed < -WEAK else 0.0
                system.entries[at, 2] = bent if bent > WEAK else 0.0
                at += 1
                if other < begin:
                    bounds[LOWER] = at
                if other < row:
                    bounds[UPPER] = at
                if other < end:
                    bounds[BEYOND] = at
            bounds[UPPER] = max(bounds[UPPER], bounds[LOWER])
            bounds[BEYOND] = max(bounds[BEYOND], bounds[UPPER])
            bounds[END] = at
    factorize(team, system, active)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def factorize(team: Team, system: System, active: int) -> None:
    """Diagonal blocks of incomplete factors (P + L) P^-1 (P + U), whose other entries are the system's own.

    P is chosen so that the product has the system's diagonal, plus LUMPED of the entries that it has where the system
    has none (the simplest of Meijerink & van der Vorst, Math. Comp. 31 (1977) 148, "modified" in part after
    Gustafsson, BIT 18 (1978) 142). Every block of rows is by itself, so that threads need not wait for each other.
    """
    bounds, column, entries = system.bounds, system.column, system.entries
    pivot, above = system.pivot, system.above
    low, high = blocks(team)
    for block in range(low, high):
        for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
            d0 = d1 = d2 = 0.0
            for q in range(bounds[row, UPPER], bounds[row, BEYOND]):
                d0 += entries[q, 0]
                d1 += entries[q, 1]
                d2 += entries[q, 2]
            above[row, 0], above[row, 1], above[row, 2] = d0, d1, d2
            m00, m01 = system.own[row], 1.0
            m10, m11 = system.own[row] - 1.0, 1.0
            for q in range(bounds[row, LOWER], bounds[row, UPPER]):
                j = column[q]
                h0, h1, h2 = LUMPED * above[j, 0], LUMPED * above[j, 1], LUMPED * above[j, 2]
                for back in range(bounds[j, UPPER], bounds[j, BEYOND]):
                    if column[back] == row:
                        h0 += (1.0 - LUMPED) * entries[back, 0]
                        h1 += (1.0 - LUMPED) * entries[back, 1]
                        h2 += (1.0 - LUMPED) * entries[back, 2]
                t00, t01 = pivot[j, 0] * h0 + pivot[j, 1] * h2, pivot[j, 0] * h1
                t10, t11 = pivot[j, 2] * h0 + pivot[j, 3] * h2, pivot[j, 2] * h1
                m00 -= entries[q, 0] * t00 + entries[q, 1] * t10
                m01 -= entries[q, 0] * t01 + entries[q, 1] * t11
                m10 -= entries[q, 2] * t00
                m11 -= entries[q, 2] * t01
            determinant = m00 * m11 - m01 * m10
            if not determinant > LEAST_PIVOT:
                m00, m01 = system.own[row], 1.0
                m10, m11 = system.own[row] - 1.0, 1.0
                determinant = 1.0
            pivot[row, 0], pivot[row, 1] = m11 / determinant, -m01 / determinant
            pivot[row, 2], pivot[row, 3] = -m10 / determinant, m00 / determinant
    meet(team)
