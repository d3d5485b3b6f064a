"""The linear system of one implicit stage, solved: BiCGStab between incomplete factors.

Each block of rows has factors of its own, (P + L) P^-1 (P + U); what couples blocks, X, is left to the iteration.
The system P^-1-scaled from both sides, (P + L)^-1 (L + D + U + X) (P + U)^-1 P, needs no product with the matrix:
of t = (P + U)^-1 P v it is t + (P + L)^-1 [P (v - 2 t) + D t + X t] (Eisenstat, SIAM J. Sci. Stat. Comput. 2
(1981) 1). Every kernel does its thread's share and ends with a meeting of the team where that is not said otherwise.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenwall.film.implicit import BEYOND, END, FIRST, LOWER, UPPER, System
from evenwall.film.team import BLOCKS, Team, blocks, lone, meet, share, whole

Vectors = NDArray[np.float32]  # (rows, 2) y and p'

MOST_ITERATIONS: Final = 80
NOTHING: Final = (
    1e-20  # changes of v smaller than this are none: what fades from row to row must not go denormal [m]
)
FEW: Final = 1200  # rows below which one thread solves while the others wait

# rows of the team's partial sums
BELOW, LEFT, TOP, BOTTOM, AHEAD, AFTER = range(1, 7)


@njit(cache=True)
def solve(team: Team, system: System, active: int, tolerance: float) -> int:
    """Solves for `solution` and `pressure`; gives the number of iterations, -1 where it can't."""
    if active >= FEW or team.size == 1:
        return bicgstab(team, system, active, tolerance)
    if team.rank == 0:
        system.iterations[0] = bicgstab(lone(team), system, active, tolerance)
    meet(team)
    return int(system.iterations[0])


@njit(cache=True, inline="always")
def something(value: float) -> float:
    """The value, or 0 where it is next to nothing."""
    return value if abs(value) > NOTHING else 0.0


@njit(cache=True, inline="always")
def _back(system: System, row: int, v0: float, v1: float, t: Vectors) -> None:
    """A row of t = (P + U)^-1 P v."""
    bounds, column, entries, pivot = system.bounds, system.column, system.entries, system.pivot
    a = b = 0.0
    for q in range(bounds[row, UPPER], bounds[row, BEYOND]):
        j = column[q]
        a += entries[q, 0] * t[j, 0] + entries[q, 1] * t[j, 1]
        b += entries[q, 2] * t[j, 0]
    t[row, 0] = something(v0 - (pivot[row, 0] * a + pivot[row, 1] * b))
    t[row, 1] = something(v1 - (pivot[row, 2] * a + pivot[row, 3] * b))


@njit(cache=True, inline="always")
def _forth(system: System, row: int, v: Vectors, t: Vectors, out: Vectors) -> tuple[float, float]:
    """A row of out = t + (P + L)^-1 [P (v - 2 t) + D t + X t]."""
    bounds, column, entries, pivot = system.bounds, system.column, system.entries, system.pivot
    y, p = t[row, 0], t[row, 1]
    a = system.own[row] * y + p
    b = a - y
    for q in range(bounds[row, LOWER], bounds[row, UPPER]):
        j = column[q]
        other = out[j, 0] - t[j, 0]
        a -= entries[q, 0] * other + entries[q, 1] * (out[j, 1] - t[j, 1])
        b -= entries[q, 2] * other
    for q in range(bounds[row, FIRST], bounds[row, LOWER]):
        j = column[q]
        a += entries[q, 0] * t[j, 0] + entries[q, 1] * t[j, 1]
        b += entries[q, 2] * t[j, 0]
    for q in range(bounds[row, BEYOND], bounds[row, END]):
        j = column[q]
        a += entries[q, 0] * t[j, 0] + entries[q, 1] * t[j, 1]
        b += entries[q, 2] * t[j, 0]
    here = something(v[row, 0] - y + pivot[row, 0] * a + pivot[row, 1] * b)
    there = something(v[row, 1] - p + pivot[row, 2] * a + pivot[row, 3] * b)
    out[row, 0], out[row, 1] = here, there
    return here, there


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def begin_through(team: Team, system: System, active: int, residual: Vectors, shadow: Vectors) -> None:
    """(P + L)^-1 of the right side, into both."""
    bounds, column, entries, pivot = system.bounds, system.column, system.entries, system.pivot
    low, high = blocks(team)
    for block in range(low, high):
        size = ahead = 0.0
        for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
            a, b = system.right[row] / system.size[row], 0.0
            for q in range(bounds[row, LOWER], bounds[row, UPPER]):
                j = column[q]
                a -= entries[q, 0] * residual[j, 0] + entries[q, 1] * residual[j, 1]
                b -= entries[q, 2] * residual[j, 0]
            y = something(pivot[row, 0] * a + pivot[row, 1] * b)
            p = something(pivot[row, 2] * a + pivot[row, 3] * b)
            residual[row, 0], residual[row, 1] = y, p
            shadow[row, 0], shadow[row, 1] = y, p
            heavy = 1.0 / system.own[row]
            size += heavy * (y * y + p * p)
            ahead += y * y + p * p
        team.sums[LEFT, block] = size
        team.sums[AHEAD, block] = ahead
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def bicgstab(team: Team, system: System, active: int, tolerance: float) -> int:
    """BiCGStab (van der Vorst, SIAM J. Sci. Stat. Comput. 13 (1992) 631) on the system scaled from both sides.

    Solves for `solution` and `pressure` until the scaled residual is below `tolerance` of the scaled right side, both
    squared times the row's stiffness: change of v times what is out of balance, as an energy.
    Gives the number of iterations, or -1 where it did not get there. What is done to a row is done in as few passes
    as the sums allow, as reading and writing is what takes the time.
    """
    vectors = system.vectors
    residual, shadow, direction, image = vectors[0], vectors[1], vectors[2], vectors[3]
    other, sought, t = vectors[4], vectors[5], vectors[6]
    low, high = blocks(team)
    first, last = share(team, active)
    begin_through(team, system, active, residual, shadow)
    fresh, left = whole(team, AHEAD), whole(team, LEFT)
    goal = tolerance * tolerance * left
    rho = alpha = omega = 1.0
    for row in range(first, last):
        for part in range(2):
            direction[row, part] = image[row, part] = other[row, part] = sought[row, part] = 0.0
    iteration = 0
    while left > goal:
        iteration += 1
        if iteration > MOST_ITERATIONS or fresh == 0.0 or not np.isfinite(fresh):
            return -1
        beta = (fresh / rho) * (alpha / omega)
        rho = fresh
        before = omega if iteration > 1 else 0.0
        for block in range(low, high):
            begin, end = active * block // BLOCKS, active * (block + 1) // BLOCKS
            for back in range(end - begin):
                row = end - 1 - back
                y, p = residual[row, 0], residual[row, 1]
                sought[row, 0] += before * y
                sought[row, 1] += before * p
                y -= before * other[row, 0]
                p -= before * other[row, 1]
                residual[row, 0], residual[row, 1] = y, p
                y += beta * (direction[row, 0] - omega * image[row, 0])
                p += beta * (direction[row, 1] - omega * image[row, 1])
                direction[row, 0], direction[row, 1] = y, p
                _back(system, row, y, p, t)
        meet(team)
        for block in range(low, high):
            below = 0.0
            for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
                y, p = _forth(system, row, direction, t, image)
                below += shadow[row, 0] * y + shadow[row, 1] * p
            team.sums[BELOW, block] = below
        meet(team)
        below = whole(team, BELOW)
        if below == 0.0:
            return -1
        alpha = rho / below
        for block in range(low, high):
            begin, end = active * block // BLOCKS, active * (block + 1) // BLOCKS
            left = 0.0
            for back in range(end - begin):
                row = end - 1 - back
                sought[row, 0] += alpha * direction[row, 0]
                sought[row, 1] += alpha * direction[row, 1]
                y = residual[row, 0] - alpha * image[row, 0]
                p = residual[row, 1] - alpha * image[row, 1]
                residual[row, 0], residual[row, 1] = y, p
                left += (y * y + p * p) / system.own[row]
                _back(system, row, y, p, t)
            team.sums[LEFT, block] = left
        meet(team)
        left = whole(team, LEFT)
        if left <= goal:
            break
        for block in range(low, high):
            top = bottom = ahead = after = 0.0
            for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
                y, p = _forth(system, row, residual, t, other)
                heavy = 1.0 / system.own[row]
                top += heavy * (y * residual[row, 0] + p * residual[row, 1])
                bottom += heavy * (y * y + p * p)
                ahead += shadow[row, 0] * residual[row, 0] + shadow[row, 1] * residual[row, 1]
                after += shadow[row, 0] * y + shadow[row, 1] * p
            team.sums[TOP, block] = top
            team.sums[BOTTOM, block] = bottom
            team.sums[AHEAD, block] = ahead
            team.sums[AFTER, block] = after
        meet(team)
        top, bottom = whole(team, TOP), whole(team, BOTTOM)
        omega = top / bottom if bottom > 0.0 else 0.0
        if omega == 0.0:
            return -1
        fresh = whole(team, AHEAD) - omega * whole(team, AFTER)
        left -= omega * top
        if left <= goal:
            for row in range(first, last):
                sought[row, 0] += omega * residual[row, 0]
                sought[row, 1] += omega * residual[row, 1]
    for block in range(low, high):
        begin, end = active * block // BLOCKS, active * (block + 1) // BLOCKS
        for back in range(end - begin):
            row = end - 1 - back
            _back(system, row, sought[row, 0], sought[row, 1], t)
            system.solution[row] = t[row, 0]
            system.pressure[row] = t[row, 1] * system.unweight[row]
    meet(team)
    return iteration
