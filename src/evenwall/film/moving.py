"""Liquid moves along fluxes that are limited so that nothing goes below 0, with its conversion and heat.

Every kernel does its thread's share and ends with a meeting of the team.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.film.equations import DRY
from evenwall.film.flux import Film
from evenwall.film.implicit import System
from evenwall.film.operators import Wall
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share, whole
from evenwall.resin.viscosity import ViscosityLaw, viscosity

KEPT: Final = 1.0 - 1e-14  # a node gives at most this share of what it holds and gets in one step []
NOTHING: Final = (
    1e-20  # liquid thinner than this has no conversion or heat that a number could hold, and stays [m]
)
SWEEPS: Final = 3  # in which shares of outflow grow by what nodes get

# rows of the team's partial sums
FOURTH, WHOLE, SHORT = range(3)


class Trial(NamedTuple):
    """Arrays of the second stage and of the move; n nodes, k edges."""

    flux: Floats  # (k,)
    before: Floats  # (k,) flux that the step before moved [m3/s]
    coupling: Floats  # (k,)
    drag: Floats  # (k,)
    volume: Floats  # (n,)
    given: Floats  # (n,) share of its wanted outflow that a node can give []
    over: Floats  # (n,) wanted outflow where it is more than the node holds, elsewhere 0 [m3]
    conversion: Floats  # (n,) of a node's liquid []
    temperature: Floats  # (n,) of a node's liquid [K]
    mixed_conversion: Floats  # (n,) of the liquid that it gives []
    mixed_temperature: Floats  # (n,) of the liquid that it gives [K]


def new_trial(nodes: int, edges: int) -> Trial:
    """Empty arrays for a wall of so many nodes and edges."""
    return Trial(*(np.zeros(edges) for _ in range(4)), *(np.zeros(nodes) for _ in range(7)))


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def add_change(
    team: Team, wall: Wall, system: System, coupling: Floats, drag: Floats, factor: float, flux: Floats
) -> None:
    """flux += factor [C (p_i - p_j) + D y_donor] with the change just solved for."""
    y, p, place = system.solution, system.pressure, system.place
    n = place.size
    first, last = share(team, flux.size)
    for e in range(first, last):
        i, j = place[wall.tail[e]], place[wall.head[e]]
        if i == n and j == n:
            continue
        donor = i if drag[e] >= 0.0 else j
        flux[e] += factor * (coupling[e] * (p[i] - p[j]) + drag[e] * y[donor])
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def net_outflow(team: Team, wall: Wall, flux: Floats, net: Floats) -> None:
    """Sum of a flux over the edges of every node [m3/s]."""
    first, last = share(team, net.size)
    for i in range(first, last):
        total = 0.0
        for k in range(wall.start[i], wall.start[i + 1]):
            f = flux[wall.edge[k]]
            total += f if wall.other[k] > i else -f
        net[i] = total
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def limit(team: Team, wall: Wall, volume: Floats, flux: Floats, trial: Trial, dt: float) -> float:
    """Scales fluxes so that no node gives more than it holds and gets; gives the norm of the outflow Courant number.

    The norm is twice the volume-weighted fourth mean of dt outflow / (A v), taken before the scaling. What a node
    gets counts once its givers' own shares are known to be safe: from shares that need no inflow each sweep lets
    them grow, and none is ever too large (after Zalesak, J. Comput. Phys. 31 (1979) 335, without a bound above).
    """
    n, given, over = volume.size, trial.given, trial.over
    low, high = blocks(team)
    for block in range(low, high):
        fourth = held_here = 0.0
        short = 0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            held = volume[i] * wall.area[i]
            out = 0.0
            for k in range(wall.start[i], wall.start[i + 1]):
                f = flux[wall.edge[k]]
                out += max(f if wall.other[k] > i else -f, 0.0)
            out *= dt
            given[i] = 1.0
            over[i] = 0.0
            if out > 0.0 and volume[i] > NOTHING:
                c = out / held
                if c > KEPT:
                    given[i] = KEPT / c
                    over[i] = out
                    short += 1
                c = min(c, 100.0)
                fourth += held * c * c * c * c
            elif out > 0.0:
                given[i] = 0.0
            held_here += held
        team.sums[FOURTH, block] = fourth
        team.sums[WHOLE, block] = held_here
        team.sums[SHORT, block] = short
    meet(team)
    first, last = share(team, n)
    if whole(team, SHORT) > 0.0:
        for _ in range(SWEEPS):
            for i in range(first, last):
                if over[i] > 0.0:
                    inflow = 0.0
                    for k in range(wall.start[i], wall.start[i + 1]):
                        j = wall.other[k]
                        f = flux[wall.edge[k]] if j < i else -flux[wall.edge[k]]
                        inflow += max(f, 0.0) * given[j] * dt
                    trial.conversion[i] = min(1.0, KEPT * (volume[i] * wall.area[i] + inflow) / over[i])
            meet(team)
            for i in range(first, last):
                if over[i] > 0.0:
                    given[i] = trial.conversion[i]
            meet(team)
    first, last = share(team, flux.size)
    for e in range(first, last):
        f = flux[e]
        flux[e] = f * (given[wall.tail[e]] if f > 0.0 else given[wall.head[e]])
    fourth, held = whole(team, FOURTH), whole(team, WHOLE)
    meet(team)
    if held <= 0.0:
        return 0.0
    return 2.0 * math.sqrt(math.sqrt(fourth / held))


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def move(
    team: Team, wall: Wall, film: Film, flux: Floats, trial: Trial, dt: float, law: ViscosityLaw
) -> None:
    """Moves liquid with its conversion and heat along the limited fluxes.

    What a node gives has its own conversion and heat; where it gives on what it gets, those of both mixed. No node
    comes out of it above the most or below the least of its own and what it got. Where liquid comes to a bare or
    gelled wall its viscosity comes with it; elsewhere that waits for the next step of cure.
    """
    first, last = share(team, wall.area.size)
    for i in range(first, last):
        if film.volume[i] > NOTHING:
            trial.conversion[i] = film.cured[i] / film.volume[i]
            trial.temperature[i] = film.heat[i] / film.volume[i]
        trial.mixed_conversion[i] = trial.conversion[i]
        trial.mixed_temperature[i] = trial.temperature[i]
    meet(team)
    for i in range(first, last):
        if trial.over[i] > 0.0:
            volume, cured, heat = film.volume[i], film.cured[i], film.heat[i]
            for k in range(wall.start[i], wall.start[i + 1]):
                j = wall.other[k]
                f = flux[wall.edge[k]] if j < i else -flux[wall.edge[k]]
                if f > 0.0:
                    part = dt / wall.area[i] * f
                    volume += part
                    cured += part * trial.conversion[j]
                    heat += part * trial.temperature[j]
            trial.mixed_conversion[i] = cured / volume
            trial.mixed_temperature[i] = heat / volume
    meet(team)
    for i in range(first, last):
        rate = dt / wall.area[i]
        volume, cured, heat = film.volume[i], film.cured[i], film.heat[i]
        least = most = trial.conversion[i]
        cold = hot = trial.temperature[i]
        if volume <= NOTHING:
            least, most, cold, hot = np.inf, 0.0, np.inf, 0.0
        for k in range(wall.start[i], wall.start[i + 1]):
            j = wall.other[k]
            f = flux[wall.edge[k]]
            if j < i:
                f = -f
            if f == 0.0:
                continue
            donor = i if f > 0.0 else j
            a, warm = trial.mixed_conversion[donor], trial.mixed_temperature[donor]
            volume -= rate * f
            cured -= rate * f * a
            heat -= rate * f * warm
            if f < 0.0:
                least, most = min(least, a), max(most, a)
                cold, hot = min(cold, warm), max(hot, warm)
        volume = max(volume, 0.0)
        bare = film.volume[i] <= DRY
        film.volume[i] = volume
        film.cured[i] = max(min(cured, volume * most), volume * least) if volume > NOTHING else 0.0
        film.heat[i] = max(min(heat, volume * hot), volume * cold) if volume > NOTHING else 0.0
        if bare and volume > DRY:
            film.viscosity[i] = viscosity(film.cured[i] / volume, film.heat[i] / volume, law)
    meet(team)
