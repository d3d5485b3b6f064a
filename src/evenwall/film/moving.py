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
MOST_COUNTED: Final = (
    10.0  # outflow Courant number that a node counts with at most: next to dry nodes pass on what they get []
)
SWEEPS: Final = 3  # in which shares of outflow grow by what nodes get

# rows of the team's partial sums
FOURTH, WHOLE, SHORT = range(3)
ROOM: Final = 0
LOST_CURED, LOST_HEAT, RAWEST, RIPEST, COLDEST, HOTTEST = range(2, 8)


class Trial(NamedTuple):
    """Arrays of the second stage and of the move; n nodes, k edges."""

    flux: Floats  # (k,)
    before: Floats  # (k,) flux that the step before moved [m3/s]
    coupling: Floats  # (k,)
    drag: Floats  # (k,)
    volume: Floats  # (n,)
    given: Floats  # (n,) share of its wanted outflow that a node can give []
    raised: Floats  # (n,) that share in the next sweep, where a node is short []
    over: Floats  # (n,) wanted outflow where it is more than the node holds, elsewhere 0 [m3]
    conversion: Floats  # (n,) of a node's liquid []
    temperature: Floats  # (n,) of a node's liquid [K]
    mixed_conversion: Floats  # (n,) of the liquid that it gives, where any node gives on what it gets []
    mixed_temperature: Floats  # (n,) the same [K]
    next_conversion: Floats  # (n,) of the liquid that a node gives in the next sweep, where it is short []
    next_temperature: Floats  # (n,) the same [K]


def new_trial(nodes: int, edges: int) -> Trial:
    """Empty arrays for a wall of so many nodes and edges."""
    return Trial(*(np.zeros(edges) for _ in range(4)), *(np.zeros(nodes) for _ in range(10)))


@njit(cache=True)
def outflow(wall: Wall, flux: Floats, i: int, k: int) -> float:
    """What node i gives through its place k in the lists of edges [m3/s], below 0 where it gets."""
    f = flux[wall.edge[k]]
    return float(f if wall.other[k] > i else -f)


@njit(cache=True)
def brought(mine: float, before: float, volume: float, cured: float, heat: float, law: ViscosityLaw) -> float:
    """Viscosity [Pa s] of a node where `before` [m] of liquid lay and `volume` [m] lies now, `mine` until then.

    Liquid that comes to a bare or gelled wall brings its own; elsewhere that waits for the next step of cure.
    """
    if before <= DRY and volume > DRY:
        return viscosity(cured / volume, heat / volume, law)
    return mine


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
            total += outflow(wall, flux, i, k)
        net[i] = total
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def limit(
    team: Team, wall: Wall, volume: Floats, flux: Floats, trial: Trial, dt: float
) -> tuple[float, bool]:
    """Scales fluxes so that no node gives more than it holds and gets.

    Gives the norm of the outflow Courant number, and whether any node gives on what it gets.

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
                out += max(outflow(wall, flux, i, k), 0.0)
            out *= dt
            given[i] = 1.0
            over[i] = 0.0
            if out > 0.0 and volume[i] > NOTHING:
                c = out / held
                if c > KEPT:
                    given[i] = KEPT / c
                    over[i] = out
                    short += 1
                c = min(c, MOST_COUNTED)
                fourth += held * c * c * c * c
            elif out > 0.0:
                given[i] = 0.0
            held_here += held
        team.sums[FOURTH, block] = fourth
        team.sums[WHOLE, block] = held_here
        team.sums[SHORT, block] = short
    meet(team)
    first, last = share(team, n)
    short_of = whole(team, SHORT) > 0.0
    if short_of:
        for _ in range(SWEEPS):
            for i in range(first, last):
                if over[i] > 0.0:
                    inflow = 0.0
                    for k in range(wall.start[i], wall.start[i + 1]):
                        inflow += max(-outflow(wall, flux, i, k), 0.0) * given[wall.other[k]] * dt
                    trial.raised[i] = min(1.0, KEPT * (volume[i] * wall.area[i] + inflow) / over[i])
            meet(team)
            for i in range(first, last):
                if over[i] > 0.0:
                    given[i] = trial.raised[i]
            meet(team)
    first, last = share(team, flux.size)
    for e in range(first, last):
        f = flux[e]
        flux[e] = f * (given[wall.tail[e]] if f > 0.0 else given[wall.head[e]])
    fourth, held = whole(team, FOURTH), whole(team, WHOLE)
    meet(team)
    if held <= 0.0:
        return 0.0, short_of
    return 2.0 * math.sqrt(math.sqrt(fourth / held)), short_of


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def move(
    team: Team, wall: Wall, film: Film, flux: Floats, trial: Trial, dt: float, short: bool, law: ViscosityLaw
) -> None:
    """Moves liquid with its conversion and heat along the limited fluxes.

    What a node gives has its own conversion and heat; where it gives on what it gets, as some do where `short`, those
    of both mixed. No node comes out of it above the most or below the least of its own and what it got.
    """
    first, last = share(team, wall.area.size)
    for i in range(first, last):
        if film.volume[i] > NOTHING:
            trial.conversion[i] = film.cured[i] / film.volume[i]
            trial.temperature[i] = film.heat[i] / film.volume[i]
    meet(team)
    if short:
        blend_short(team, wall, film, flux, trial, dt)
        hand_on(team, wall, film, flux, trial, trial.mixed_conversion, trial.mixed_temperature, dt, law)
        restore(team, wall, film.volume, film.cured, LOST_CURED, RAWEST, RIPEST)
        restore(team, wall, film.volume, film.heat, LOST_HEAT, COLDEST, HOTTEST)
    else:
        hand_on(team, wall, film, flux, trial, trial.conversion, trial.temperature, dt, law)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def hand_on(
    team: Team,
    wall: Wall,
    film: Film,
    flux: Floats,
    trial: Trial,
    conversion: Floats,
    temperature: Floats,
    dt: float,
    law: ViscosityLaw,
) -> None:
    """Moves liquid that has `conversion` (n,) and `temperature` (n,) [K] where it leaves a node.

    What the bounds at single nodes take from the sums of conversion and heat is left in the team's sums.
    """
    low, high = blocks(team)
    for block in range(low, high):
        lost_cured = lost_heat = ripest = hottest = 0.0
        rawest = coldest = np.inf
        n = wall.area.size
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            rate = dt / wall.area[i]
            before = film.volume[i]
            volume, cured, heat = before, film.cured[i], film.heat[i]
            least = most = trial.conversion[i]
            cold = hot = trial.temperature[i]
            if volume <= NOTHING:
                least, most, cold, hot = np.inf, 0.0, np.inf, 0.0
            for k in range(wall.start[i], wall.start[i + 1]):
                f = outflow(wall, flux, i, k)
                if f == 0.0:
                    continue
                donor = i if f > 0.0 else wall.other[k]
                a, warm = conversion[donor], temperature[donor]
                volume -= rate * f
                cured -= rate * f * a
                heat -= rate * f * warm
                if f < 0.0:
                    least, most = min(least, a), max(most, a)
                    cold, hot = min(cold, warm), max(hot, warm)
            volume = max(volume, 0.0)
            film.volume[i] = volume
            film.cured[i] = max(min(cured, volume * most), volume * least) if volume > NOTHING else 0.0
            film.heat[i] = max(min(heat, volume * hot), volume * cold) if volume > NOTHING else 0.0
            film.viscosity[i] = brought(film.viscosity[i], before, volume, film.cured[i], film.heat[i], law)
            lost_cured += wall.area[i] * (cured - film.cured[i])
            lost_heat += wall.area[i] * (heat - film.heat[i])
            rawest, ripest = min(rawest, least), max(ripest, most)
            coldest, hottest = min(coldest, cold), max(hottest, hot)
        team.sums[LOST_CURED, block], team.sums[LOST_HEAT, block] = lost_cured, lost_heat
        team.sums[RAWEST, block], team.sums[RIPEST, block] = rawest, ripest
        team.sums[COLDEST, block], team.sums[HOTTEST, block] = coldest, hottest
    meet(team)


@njit(cache=True)
def restore(team: Team, wall: Wall, volume: Floats, field: Floats, lost: int, low: int, high: int) -> None:
    """Gives what bounds at single nodes took of a `field`'s sum back to all, in proportion to what each has room for.

    A node that gives on nearly all it gets holds too little for what its sweeps of mixing leave open. The three
    numbers are rows of the team's sums: what was lost, and the least and most of the field over volume on the wall.
    """
    missing = whole(team, lost)
    if missing == 0.0:
        meet(team)  # before which nobody writes to what others read here
        return
    least, most = team.sums[low, 0], team.sums[high, 0]
    for block in range(1, BLOCKS):
        least, most = min(least, team.sums[low, block]), max(most, team.sums[high, block])
    bound = most if missing > 0.0 else least
    n = wall.area.size
    begin, end = blocks(team)
    for block in range(begin, end):
        room = 0.0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            if volume[i] > NOTHING:
                room += wall.area[i] * (bound * volume[i] - field[i])
        team.sums[ROOM, block] = room
    meet(team)
    room = whole(team, ROOM)
    if room != 0.0 and missing / room > 0.0:
        taken = min(missing / room, 1.0)
        first, last = share(team, n)
        for i in range(first, last):
            if volume[i] > NOTHING:
                field[i] += taken * (bound * volume[i] - field[i])
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def blend_short(team: Team, wall: Wall, film: Film, flux: Floats, trial: Trial, dt: float) -> None:
    """Conversion and temperature of what every node gives, those of what it holds and gets where it is short.

    What it gets may come from a node that is short too, so that takes sweeps.
    """
    first, last = share(team, wall.area.size)
    for i in range(first, last):
        trial.mixed_conversion[i] = trial.conversion[i]
        trial.mixed_temperature[i] = trial.temperature[i]
    meet(team)
    for _ in range(SWEEPS):
        for i in range(first, last):
            if trial.over[i] > 0.0:
                volume, cured, heat = film.volume[i], film.cured[i], film.heat[i]
                for k in range(wall.start[i], wall.start[i + 1]):
                    part = -dt / wall.area[i] * outflow(wall, flux, i, k)
                    if part > 0.0:
                        volume += part
                        cured += part * trial.mixed_conversion[wall.other[k]]
                        heat += part * trial.mixed_temperature[wall.other[k]]
                trial.next_conversion[i] = cured / volume
                trial.next_temperature[i] = heat / volume
        meet(team)
        for i in range(first, last):
            if trial.over[i] > 0.0:
                trial.mixed_conversion[i] = trial.next_conversion[i]
                trial.mixed_temperature[i] = trial.next_temperature[i]
        meet(team)
