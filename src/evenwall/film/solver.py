"""The linear system of an implicit stage solved: BiCGStab with the wall's patches and the diagonal before it.

Every kernel does its thread's share and ends with a meeting of the team.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from evenwall.film.implicit import System, change_of_pressure, image_of
from evenwall.film.patches import solve_patches
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, lone, meet, share, whole

MOST_ITERATIONS: Final = 80
FEW: Final = 1200  # rows below which one thread solves while the others wait

# rows of the team's partial sums
FRESH, BELOW, LEFT, TOP, BOTTOM, AFTER, LAST = range(7)


@njit(cache=True)
def solve(
    team: Team, system: System, active: int, tolerance: float, patched: bool, begun: float
) -> tuple[int, float]:
    """Solves for `solution` and the change of `pressure`; gives the number of iterations, -1 where it can't.

    It gives the square of the right side too. `begun` is that of an earlier solution of the same stage which this one
    mends, and which the tolerance goes by; 0 for none.
    """
    together = active >= FEW or team.size == 1
    if together or team.rank == 0:
        done, square = bicgstab(team if together else lone(team), system, active, tolerance, patched, begun)
        if together:
            return done, square
        system.taken[0], system.taken[1] = done, square
    meet(team)
    return int(system.taken[0]), float(system.taken[1])


@njit(cache=True, fastmath={"contract", "nsz", "arcp", "reassoc"})
def precondition(
    team: Team, system: System, active: int, residual: Floats, patched: bool, out: Floats
) -> None:
    """out = the residual over the diagonal; if patched, the stiff rows' solved with their patches."""
    first, last = share(team, active)
    if patched:
        solve_patches(team, system.patches, residual, out)
        for row in range(first, last):
            if not system.patches.solved[row]:
                out[row] = system.scale[row] * residual[row]
    else:
        for row in range(first, last):
            out[row] = system.scale[row] * residual[row]
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp", "reassoc"})
def bicgstab(
    team: Team, system: System, active: int, tolerance: float, patched: bool, begun: float
) -> tuple[int, float]:
    """BiCGStab (van der Vorst, SIAM J. Sci. Stat. Comput. 13 (1992) 631), preconditioned.

    Solves for `solution` from 0 until the weighted residual is below `tolerance` of the right side, or of one whose
    square was `begun`. Gives the number of iterations, or -1 where it did not get there, and the right side's square.
    What is left of a row stays in its node as volume, and a node so stiff that step times stiffness is s makes s times
    as much flow of it in the next step: left without weight, it would grow wherever s is above 1/tolerance.
    """
    y, p = system.solution, system.pressure
    residual, shadow, direction = system.vectors[0], system.vectors[1], system.vectors[2]
    image, other, guess = system.vectors[3], system.vectors[4], system.vectors[5]
    low, high = blocks(team)
    first, last = share(team, active)
    for block in range(low, high):
        size = 0.0
        for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
            value = system.right[row]
            y[row] = 0.0
            p[row] = 0.0
            residual[row] = value
            shadow[row] = value
            direction[row] = 0.0
            image[row] = 0.0
            size += value * value
        team.sums[FRESH, block] = size
    meet(team)
    fresh = whole(team, FRESH)
    square = fresh
    goal = tolerance * tolerance * max(square, begun)
    if square == 0.0:
        return 0, square
    rho = alpha = omega = 1.0
    iteration = 0
    while iteration < MOST_ITERATIONS:
        iteration += 1
        if fresh == 0.0 or not np.isfinite(fresh):
            return -1, square
        beta = (fresh / rho) * (alpha / omega)
        rho = fresh
        for row in range(first, last):
            direction[row] = residual[row] + beta * (direction[row] - omega * image[row])
        precondition(team, system, active, direction, patched, guess)
        change_of_pressure(team, system, active, guess, p)
        image_of(team, system, active, guess, p, image)
        for block in range(low, high):
            below = 0.0
            for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
                below += shadow[row] * image[row]
            team.sums[BELOW, block] = below
        meet(team)
        below = whole(team, BELOW)
        if below == 0.0:
            return -1, square
        alpha = rho / below
        for block in range(low, high):
            left = 0.0
            for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
                y[row] += alpha * guess[row]
                residual[row] -= alpha * image[row]
                left += (system.weight[row] * residual[row]) ** 2
            team.sums[LEFT, block] = left
        meet(team)
        if whole(team, LEFT) <= goal:
            break
        precondition(team, system, active, residual, patched, guess)
        change_of_pressure(team, system, active, guess, p)
        image_of(team, system, active, guess, p, other)
        for block in range(low, high):
            top = bottom = 0.0
            for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
                top += other[row] * residual[row]
                bottom += other[row] * other[row]
            team.sums[TOP, block] = top
            team.sums[BOTTOM, block] = bottom
        meet(team)
        bottom = whole(team, BOTTOM)
        if bottom == 0.0:
            return -1, square
        omega = whole(team, TOP) / bottom
        if omega == 0.0:
            return -1, square
        for block in range(low, high):
            left = after = 0.0
            for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
                y[row] += omega * guess[row]
                residual[row] -= omega * other[row]
                left += (system.weight[row] * residual[row]) ** 2
                after += shadow[row] * residual[row]
            team.sums[AFTER, block] = after
            team.sums[LAST, block] = left
        meet(team)
        fresh = whole(team, AFTER)
        if whole(team, LAST) <= goal:
            break
        if iteration == MOST_ITERATIONS:
            return -1, square
    change_of_pressure(team, system, active, y, p)
    return iteration, square
