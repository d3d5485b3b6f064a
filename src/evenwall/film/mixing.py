"""A pool that flows mixes: conversion and heat spread along it as the liquid is sheared.

In one layer that is even across its depth h all liquid moves with the mean velocity u. In truth its upper part runs
ahead: in Nusselt's half parabola u(z) varies round the mean by <u'^2> = u^2/5. Liquid that keeps its place in the depth
for one turnover T = h/u is spread by D = <u'^2> T = u h/5 (Taylor, Diffusion by continuous movements, Proc. London
Math. Soc. s2-20 (1922) 196, from memory). Donors' values spread by u l/2 of their own, l the edge,
which is more than that in a thin film, so only what is missing, (h/5 - l/2) u, is exchanged. Without it a deep pool's
heat follows the mesh.
"""

from __future__ import annotations

import math
from typing import Final

from numba import njit

from evenwall.film.equations import DRY
from evenwall.film.flux import Film
from evenwall.film.moving import Trial
from evenwall.film.operators import Wall
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share, whole
from evenwall.geometry.surface import EVEN_CELL

SHEARED: Final = 0.2  # variance of the velocity over the depth, of its mean's square []
BY_DONORS: Final = 0.5  # share of an edge over which donors' values spread []
SWAPPED: Final = 0.5  # share of a node that is swapped at once at most: more would overshoot []
MOST_GOES: Final = 16.0  # in which a step's exchange is done

DEEP, LARGEST = range(2)  # rows of the team's partial sums


@njit(cache=True)
def spread_of(wall: Wall, film: Film, depth: Floats, i: int) -> float:
    """Flux exchanged over flux, for what is liquid at node i; 0 where donors' values spread by more."""
    if film.volume[i] <= DRY or wall.area[i] >= EVEN_CELL * (SHEARED / BY_DONORS * depth[i]) ** 2:
        return 0.0
    return float(SHEARED * depth[i] / math.sqrt(wall.area[i] / EVEN_CELL) - BY_DONORS)


@njit(cache=True)
def exchange(spread: Floats, flux: float, i: int, j: int, dt: float) -> float:
    """Liquid [m3] that nodes i and j would swap in `dt` [s] while `flux` [m3/s] runs between them."""
    return float(dt * abs(flux) * min(spread[i], spread[j]))


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def mix(team: Team, wall: Wall, film: Film, depth: Floats, flux: Floats, trial: Trial, dt: float) -> None:
    """Spreads conversion and heat of deep liquid that has just moved along `flux` (k,) [m3/s] in `dt` [s].

    `depth` (n,) [m] is that of the liquid. Swaps keep the sums of both, and every node within what it
    and those near it held. Where a node would swap more than it can at once all is done in several goes: bounded once a
    step, a deep pool mixed by a sixth of this law, the less the finer the mesh.
    """
    n = film.volume.size
    spread, allowed = trial.raised, trial.over  # of use to nothing else once liquid has moved
    low, high = blocks(team)
    for block in range(low, high):
        deep = 0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            spread[i] = spread_of(wall, film, depth, i)
            deep += spread[i] > 0.0
        team.sums[DEEP, block] = deep
    meet(team)
    deep = int(whole(team, DEEP))
    meet(team)
    if deep == 0:
        return
    for block in range(low, high):
        largest = 0.0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            if spread[i] > 0.0:
                wanted = 0.0
                for k in range(wall.start[i], wall.start[i + 1]):
                    wanted += exchange(spread, flux[wall.edge[k]], i, wall.other[k], dt)
                allowed[i] = wanted / (wall.area[i] * film.volume[i])
                largest = max(largest, allowed[i])
        team.sums[LARGEST, block] = largest
    meet(team)
    goes = 1
    for block in range(BLOCKS):
        goes = max(goes, math.ceil(min(team.sums[LARGEST, block] / SWAPPED, MOST_GOES)))
    first, last = share(team, n)
    for i in range(first, last):
        if spread[i] > 0.0:
            allowed[i] = SWAPPED * goes / max(allowed[i], SWAPPED * goes)
    for _ in range(goes):
        swap(team, wall, film, flux, spread, allowed, trial, dt / goes)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def swap(
    team: Team,
    wall: Wall,
    film: Film,
    flux: Floats,
    spread: Floats,
    allowed: Floats,
    trial: Trial,
    dt: float,
) -> None:
    """One go of `mix`; nodes take part with an `allowed` (n,) share of what they want []."""
    first, last = share(team, film.volume.size)
    for i in range(first, last):
        if spread[i] > 0.0:
            trial.conversion[i] = film.cured[i] / film.volume[i]
            trial.temperature[i] = film.heat[i] / film.volume[i]
    meet(team)
    for i in range(first, last):
        if spread[i] == 0.0:
            continue
        cured = heat = 0.0
        for k in range(wall.start[i], wall.start[i + 1]):
            j = wall.other[k]
            swapped = exchange(spread, flux[wall.edge[k]], i, j, dt)
            if swapped > 0.0:
                swapped *= min(allowed[i], allowed[j])
                cured += swapped * (trial.conversion[j] - trial.conversion[i])
                heat += swapped * (trial.temperature[j] - trial.temperature[i])
        film.cured[i] += cured / wall.area[i]
        film.heat[i] += heat / wall.area[i]
    meet(team)
