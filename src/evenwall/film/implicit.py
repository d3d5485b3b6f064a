"""The linear system of one implicit stage, set up and solved only where the film is stiff."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.film.flux import Work
from evenwall.film.operators import Indices, Wall
from evenwall.film.state import Floats

STIFF: Final = 0.5  # implicit where step times stiffness is above this []
MOST_ITERATIONS: Final = 80


class System(NamedTuple):
    """Rows of the active nodes; arrays are as long as the whole wall needs, the first `active` rows count."""

    place: Indices  # (n,) a node's row, or n where it is not active
    node: Indices  # (n,) a row's node
    start: Indices  # (n + 1,) a row's entries
    column: Indices  # (2 k,) row of the entry's node, or n
    coupling: Floats  # (2 k,) step times C
    bend: Floats  # (2 k,) capillary coupling dPsi_i/dv_j
    drag: Floats  # (2 k,) step times D where the other node gives
    own: Floats  # (n,) area + step times D where the row's node gives
    stiff: Floats  # (n,) dPsi_i/dv_i
    scale: Floats  # (n,) inverse of the diagonal
    solution: Floats  # (n + 1,) y = change of v; the last entry stays 0
    pressure: Floats  # (n + 1,) change of Psi; the last entry stays 0
    right: Floats  # (n,)
    vectors: Floats  # (6, n + 1)


def new_system(nodes: int, edges: int) -> System:
    """Empty arrays for a wall of so many nodes and edges."""
    index, double = np.zeros, 2 * edges
    return System(
        place=np.full(nodes, nodes, dtype=np.uint32),
        node=index(nodes, dtype=np.uint32),
        start=index(nodes + 1, dtype=np.uint32),
        column=index(double, dtype=np.uint32),
        coupling=np.zeros(double),
        bend=np.zeros(double),
        drag=np.zeros(double),
        own=np.zeros(nodes),
        stiff=np.zeros(nodes),
        scale=np.zeros(nodes),
        solution=np.zeros(nodes + 1),
        pressure=np.zeros(nodes + 1),
        right=np.zeros(nodes),
        vectors=np.zeros((6, nodes + 1)),
    )


@njit(cache=True)
def choose_active(wall: Wall, work: Work, system: System, sigma: float, step: float) -> int:
    """Marks nodes whose own stiffness times `step` [s] is above STIFF, and their neighbours; gives their count."""
    n = wall.area.size
    place = system.place
    place[:] = n
    for i in range(n):
        own = work.stiffness[i] if work.stiffness[i] >= 0.0 else -work.stiffness[i]
        capillary = 2.0 * sigma * work.lift[i] * work.lift[i] * wall.sum_weight[i] / wall.area[i]
        stiffness = (2.0 * work.conductance[i] * (own + capillary) + work.slide[i]) / wall.area[i]
        if step * stiffness > STIFF:
            place[i] = 0
            for k in range(wall.start[i], wall.start[i + 1]):
                place[wall.other[k]] = 0
    active = 0
    for i in range(n):
        if place[i] == 0:
            place[i] = active
            system.node[active] = i
            active += 1
    return active


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def assemble(
    wall: Wall,
    work: Work,
    coupling: Floats,
    drag: Floats,
    system: System,
    active: int,
    sigma: float,
    step: float,
) -> None:
    """Rows of A y + step [C (p_i - p_j) + D y_donor] = right, p = dPsi/dv y, for the active nodes."""
    entry = 0
    for row in range(active):
        i = system.node[row]
        system.start[row] = entry
        own = wall.area[i]
        bend = sigma * work.lift[i] / wall.area[i]
        stiff = work.stiffness[i] + bend * work.lift[i] * wall.sum_weight[i]
        diagonal = step * work.conductance[i] * stiff
        for k in range(wall.start[i], wall.start[i + 1]):
            e, j = wall.edge[k], wall.other[k]
            c = step * coupling[e]
            d = step * drag[e]
            if i == wall.head[e]:
                d = -d
            pull = wall.weight[e] * work.lift[j]
            system.column[entry] = system.place[j]
            system.coupling[entry] = c
            system.bend[entry] = -bend * pull
            diagonal += c * sigma * work.lift[i] * pull / wall.area[j]
            if d > 0.0:
                own += d
                system.drag[entry] = 0.0
            else:
                system.drag[entry] = d
            entry += 1
        system.own[row] = own
        system.stiff[row] = stiff
        system.scale[row] = 1.0 / max(own + diagonal, 1e-3 * own)
    system.start[active] = entry


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def apply(system: System, active: int, y: Floats, p: Floats, out: Floats) -> None:
    """out = A y + step [C (p_i - p_j) + D y_donor], and p = dPsi/dv y on the way."""
    for row in range(active):
        total = system.stiff[row] * y[row]
        for k in range(system.start[row], system.start[row + 1]):
            total += system.bend[k] * y[system.column[k]]
        p[row] = total
    for row in range(active):
        here = p[row]
        total = system.own[row] * y[row]
        for k in range(system.start[row], system.start[row + 1]):
            j = system.column[k]
            total += system.coupling[k] * (here - p[j]) + system.drag[k] * y[j]
        out[row] = total


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def solve(system: System, active: int, tolerance: float) -> int:
    """BiCGStab with Jacobi's preconditioner (van der Vorst, SIAM J. Sci. Stat. Comput. 13 (1992) 631).

    Solves for `solution` from 0 until the residual is below `tolerance` of the right side. Gives the number of
    iterations, or -1 where it did not get there.
    """
    y, p = system.solution, system.pressure
    residual, shadow, direction = system.vectors[0], system.vectors[1], system.vectors[2]
    image, other, guess = system.vectors[3], system.vectors[4], system.vectors[5]
    size = 0.0
    for row in range(active):
        value = system.right[row]
        y[row] = 0.0
        p[row] = 0.0
        residual[row] = value
        shadow[row] = value
        direction[row] = 0.0
        image[row] = 0.0
        size += value * value
    if size == 0.0:
        return 0
    goal = tolerance * tolerance * size
    rho = alpha = omega = 1.0
    for iteration in range(1, MOST_ITERATIONS + 1):
        fresh = 0.0
        for row in range(active):
            fresh += shadow[row] * residual[row]
        if fresh == 0.0 or not np.isfinite(fresh):
            return -1
        beta = (fresh / rho) * (alpha / omega)
        rho = fresh
        for row in range(active):
            direction[row] = residual[row] + beta * (direction[row] - omega * image[row])
            guess[row] = system.scale[row] * direction[row]
        apply(system, active, guess, p, image)
        below = 0.0
        for row in range(active):
            below += shadow[row] * image[row]
        if below == 0.0:
            return -1
        alpha = rho / below
        left = 0.0
        for row in range(active):
            y[row] += alpha * guess[row]
            residual[row] -= alpha * image[row]
            left += residual[row] * residual[row]
        if left <= goal:
            return iteration
        for row in range(active):
            guess[row] = system.scale[row] * residual[row]
        apply(system, active, guess, p, other)
        top = bottom = 0.0
        for row in range(active):
            top += other[row] * residual[row]
            bottom += other[row] * other[row]
        if bottom == 0.0:
            return -1
        omega = top / bottom
        left = 0.0
        for row in range(active):
            y[row] += omega * guess[row]
            residual[row] -= omega * other[row]
            left += residual[row] * residual[row]
        if left <= goal:
            return iteration
        if omega == 0.0:
            return -1
    return -1


@njit(cache=True)
def change_of_pressure(system: System, active: int) -> None:
    """Sets `pressure` to dPsi/dv times the solution."""
    y, p = system.solution, system.pressure
    for row in range(active):
        total = system.stiff[row] * y[row]
        for k in range(system.start[row], system.start[row + 1]):
            total += system.bend[k] * y[system.column[k]]
        p[row] = total
