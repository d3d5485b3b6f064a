"""The linear system of one implicit stage, set up only where the film is stiff; `solver` solves it.

Every kernel does its thread's share and ends with a meeting of the team.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.film.flux import Work
from evenwall.film.operators import Indices, Wall
from evenwall.film.patches import STIFFER, Patches, factorize, new_patches, padded
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share, whole

STIFF: Final = 0.5  # implicit where step times stiffness is above this []
SLOTS: Final = 8  # entries of a row that lie side by side; few nodes have more edges
STIFFLY: Final = (
    0.005  # a residual counts by so much of its row's diagonal over its area, at least 1, see `bicgstab`
)

COUNT: Final = 0  # row of the team's partial sums


class System(NamedTuple):
    """Rows of the active nodes, SLOTS entries each; the crowded nodes' further entries apart. n nodes, c crowded."""

    place: Indices  # (n,) a node's row, or n where it is not active
    node: Indices  # (n,) a row's node
    marked: Indices  # (n,) 1 where the film is stiff
    column: Indices  # (n, SLOTS) row of the entry's node, or n
    coupling: Floats  # (n, SLOTS) step times C
    bend: Floats  # (n, SLOTS) capillary coupling dPsi_i/dv_j
    drag: Floats  # (n, SLOTS) step times D where the other node gives
    crowded: Indices  # (c,) nodes with more than SLOTS edges
    more: Indices  # (c + 1,) where their further entries begin
    more_column: Indices  # (m,)
    more_coupling: Floats  # (m,)
    more_bend: Floats  # (m,)
    more_drag: Floats  # (m,)
    own: Floats  # (n,) area + step times D where the row's node gives
    sum_coupling: Floats  # (n,) step times the sum of C
    stiff: Floats  # (n,) dPsi_i/dv_i
    scale: Floats  # (n,) inverse of the diagonal
    weight: Floats  # (n,) of a row's residual where the solver asks whether it is done []
    solution: Floats  # (n + 1,) y = change of v; the last entry stays 0
    pressure: Floats  # (n + 1,) change of Psi; the last entry stays 0
    right: Floats  # (n,)
    vectors: Floats  # (6, n + 1)
    patches: Patches  # the same system for the stiff rows of every patch of the wall and round it
    taken: Floats  # (2,) iterations that the solver took, -1 where it did not get there, and the square it began from


def new_system(wall: Wall) -> System:
    """Empty arrays for the wall."""
    nodes = len(wall.area)
    degree = np.diff(wall.start.astype(np.int64))
    crowded = np.flatnonzero(degree > SLOTS)
    more = np.concatenate([[0], np.cumsum(degree[crowded] - SLOTS)])
    return System(
        place=np.full(nodes, nodes, dtype=np.uint32),
        node=np.zeros(nodes, dtype=np.uint32),
        marked=np.zeros(nodes, dtype=np.uint32),
        column=np.full((nodes, SLOTS), nodes, dtype=np.uint32),
        coupling=np.zeros((nodes, SLOTS)),
        bend=np.zeros((nodes, SLOTS)),
        drag=np.zeros((nodes, SLOTS)),
        crowded=crowded.astype(np.uint32),
        more=more.astype(np.uint32),
        more_column=np.full(more[-1], nodes, dtype=np.uint32),
        more_coupling=np.zeros(more[-1]),
        more_bend=np.zeros(more[-1]),
        more_drag=np.zeros(more[-1]),
        own=np.zeros(nodes),
        sum_coupling=np.zeros(nodes),
        stiff=np.zeros(nodes),
        scale=np.zeros(nodes),
        weight=np.zeros(nodes),
        solution=np.zeros(nodes + 1),
        pressure=np.zeros(nodes + 1),
        right=np.zeros(nodes),
        vectors=np.zeros((6, nodes + 1)),
        patches=new_patches(wall),
        taken=np.zeros(2),
    )


@njit(cache=True)
def choose_active(team: Team, wall: Wall, work: Work, system: System, sigma: float, step: float) -> int:
    """Marks nodes whose own stiffness times `step` [s] is above STIFF, and their neighbours; gives their count."""
    n = wall.area.size
    place, marked = system.place, system.marked
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
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            place[i] = n
            near = marked[i]
            for k in range(wall.start[i], wall.start[i + 1]):
                near |= marked[wall.other[k]] & 1
            if near:
                place[i] = 0
                count += 1
        team.sums[COUNT, block] = count
    meet(team)
    row = 0
    for block in range(low):
        row += int(team.sums[COUNT, block])
    for i in range(first, last):
        if place[i] == 0:
            place[i] = row
            system.node[row] = i
            row += 1
    active = int(whole(team, COUNT))
    meet(team)
    return active


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def entry(wall: Wall, work: Work, i: int, k: int, bend: float, step: float) -> tuple[float, float, float]:
    """Step times C, capillary coupling and step times D (outward) of the k-th adjacency, which is node i's."""
    e, j = wall.edge[k], wall.other[k]
    d = step * work.drag[e]
    return step * work.coupling[e], -bend * wall.weight[e] * work.lift[j], d if j > i else -d


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
        own = wall.area[i]
        bend = sigma * work.lift[i] / wall.area[i]
        stiff = max(work.stiffness[i], 0.0) + bend * work.lift[i] * wall.sum_weight[i]
        diagonal = step * work.conductance[i] * stiff
        start, end = wall.start[i], wall.start[i + 1]
        for k in range(start, end):
            j = wall.other[k]
            c, b, d = entry(wall, work, i, k, bend, step)
            diagonal -= c * b * wall.area[i] / wall.area[j]
            own += max(d, 0.0)
            slot = k - start
            if slot < SLOTS:
                system.column[row, slot] = system.place[j]
                system.coupling[row, slot] = c
                system.bend[row, slot] = b
                system.drag[row, slot] = min(d, 0.0)
        for slot in range(end - start, SLOTS):
            system.column[row, slot] = n
            system.coupling[row, slot] = system.bend[row, slot] = system.drag[row, slot] = 0.0
        system.own[row] = own
        system.sum_coupling[row] = step * work.conductance[i]
        system.stiff[row] = stiff
        system.scale[row] = 1.0 / max(own + diagonal, 1e-3 * own)
        system.weight[row] = max(1.0, STIFFLY / (system.scale[row] * wall.area[i]))
    for which in range(system.crowded.size):
        i = system.crowded[which]
        row = system.place[i]
        if row < first or row >= last or row == n:
            continue
        bend = sigma * work.lift[i] / wall.area[i]
        for m in range(system.more[which], system.more[which + 1]):
            k = wall.start[i] + SLOTS + m - system.more[which]
            c, b, d = entry(wall, work, i, k, bend, step)
            system.more_column[m] = system.place[wall.other[k]]
            system.more_coupling[m] = c
            system.more_bend[m] = b
            system.more_drag[m] = min(d, 0.0)
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp", "reassoc"})
def change_of_pressure(team: Team, system: System, active: int, y: Floats, p: Floats) -> None:
    """p = dPsi/dv y of the active rows."""
    bend, column = system.bend, system.column
    first, last = share(team, active)
    for row in range(first, last):
        total = 0.0
        for slot in range(SLOTS):
            total += bend[row, slot] * y[column[row, slot]]
        p[row] = total + system.stiff[row] * y[row]
    for which in range(system.crowded.size):
        row = system.place[system.crowded[which]]
        if first <= row < last:
            for m in range(system.more[which], system.more[which + 1]):
                p[row] += system.more_bend[m] * y[system.more_column[m]]
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp", "reassoc"})
def image_of(team: Team, system: System, active: int, y: Floats, p: Floats, out: Floats) -> None:
    """out = A y + step [C (p_i - p_j) + D y_donor] of the thread's rows; p = dPsi/dv y. No meeting at its end."""
    coupling, drag, column = system.coupling, system.drag, system.column
    first, last = share(team, active)
    for row in range(first, last):
        total = 0.0
        for slot in range(SLOTS):
            j = column[row, slot]
            total += drag[row, slot] * y[j] - coupling[row, slot] * p[j]
        out[row] = total + system.own[row] * y[row] + system.sum_coupling[row] * p[row]
    for which in range(system.crowded.size):
        row = system.place[system.crowded[which]]
        if first <= row < last:
            for m in range(system.more[which], system.more[which + 1]):
                j = system.more_column[m]
                out[row] += system.more_drag[m] * y[j] - system.more_coupling[m] * p[j]


@njit(cache=True)
def assemble_patches(team: Team, system: System) -> None:
    """The same system for every patch's stiff rows, transposed and factorized; see `patches`."""
    patches, n = system.patches, system.place.size
    column, at = system.column, system.patches.at[team.rank]
    for g in range(team.rank, patches.rows.size, team.size):
        start, rows, owned = patches.start[g], 0, 0
        for a in range(start, patches.start[g + 1]):
            row = system.place[patches.node[a]]
            if row < n:
                stiff = STIFFER * system.scale[row] * system.own[row] < 1.0
                if patches.inner[a]:
                    patches.solved[row] = stiff
                    owned += stiff
                if stiff:
                    patches.row[start + rows] = row
                    patches.own[start + rows] = patches.inner[a]
                    at[row] = rows
                    rows += 1
        if owned == 0:  # those beside it are solved with their own patches
            for i in range(rows):
                at[patches.row[start + i]] = n
            rows = 0
        patches.rows[g] = rows
        width = 0
        for i in range(rows):
            row = patches.row[start + i]
            for slot in range(SLOTS):
                j = column[row, slot]
                if j < n and at[j] < n:
                    width = max(width, abs(at[j] - i))
        width = padded(width)
        patches.width[g] = width
        stride = 2 * width + 1
        band = patches.band[patches.first[g] : patches.first[g] + rows * stride]
        band[:] = 0.0
        for i in range(rows):
            row = patches.row[start + i]
            band[i * stride + width] = system.own[row] + system.sum_coupling[row] * system.stiff[row]
            for slot in range(SLOTS):
                j = column[row, slot]
                if j < n and at[j] < n:
                    entry = system.drag[row, slot] - system.coupling[row, slot] * system.stiff[j]
                    band[at[j] * stride + width + i - at[j]] += entry
        for i in range(rows):
            at[patches.row[start + i]] = n
        factorize(band, rows, width)
    meet(team)
