"""Drops: liquid that hangs under an overhang, more than a drop can hold, falls to the wall below.

A body of liquid is what lies deeper than the capillary length, node joined to node. Where most of a body hangs it is
no moving pool: a pool is carried by the floor or a wall it stands on, and is left alone. A hanging body holds on as
long as no more of it is deeper than the capillary length than of the largest drop that hangs still; of a greater one
that part falls, after the time in which ripples under a ceiling grow to its thickness and it has left the wall.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenwall.film.equations import DRY
from evenwall.film.fluid import Fluid
from evenwall.film.flux import Body, Film
from evenwall.film.moving import brought
from evenwall.film.operators import Wall
from evenwall.film.state import Floats
from evenwall.resin.viscosity import ViscosityLaw

LARGEST_DROP: Final = 18.96  # volume of the largest drop under a wetted ceiling, capillary lengths cubed []
DEEP_PART: Final = 4.70  # what of it hangs more than a capillary length under the ceiling []
FOOTPRINT: Final = 3.22  # and its greatest radius, capillary lengths []
CEILING: Final = 0.5  # liquid hangs where this share of its weight or more pulls away from the wall []
GROWTHS: Final = math.log(
    100.0
)  # growth times in which ripples of a hundredth of the film reach through it []

Integers = NDArray[np.int64]


@njit(cache=True)
def growth_time(h: float, pull: float, mu: float, rho: float, sigma: float) -> float:
    """Time [s] in which the fastest ripples of a film of `h` [m] under a ceiling grow e-fold.

    12 mu sigma / ((rho b_n)^2 h^3), Fermigier et al., J. Fluid Mech. 236 (1992) 349; `pull` = b_n [m/s2].
    Example: 0.5 mm of 0.1 Pa s, 1050 kg/m3, 0.035 N/m: 3.17 s.
    """
    weight = rho * pull
    return 12.0 * mu * sigma / (weight * weight * h * h * h)


@njit(cache=True)
def let_fall(
    wall: Wall, film: Film, thickness: Floats, fluid: Fluid, body: Body, dt: float, fallen: Floats
) -> float:
    """Lets drops fall for `dt` [s]; adds what each node lost to `fallen` (n,) [m], gives its volume [m3].

    A falling part keeps its conversion and temperature and spreads over the largest drop's footprint round the
    first wall that lies under it along the body force. `thickness` (n,) [m] is of liquid and gelled together.
    """
    n = film.volume.size
    rho, sigma = fluid.density, fluid.surface_tension
    size = math.sqrt(body.g[0] ** 2 + body.g[1] ** 2 + body.g[2] ** 2)
    if sigma <= 0.0 or size <= 0.0:
        return 0.0
    down = (body.g[0] / size, body.g[1] / size, body.g[2] / size)
    shortest = math.sqrt(sigma / (rho * size))
    label = _bodies(wall, film, thickness, shortest)
    count = label.max() + 1
    if count == 0:
        return 0.0
    hanging, carried, below = np.zeros(count), np.zeros(count), np.zeros(count)
    for i in range(n):
        if label[i] >= 0:
            held = wall.area[i] * film.volume[i]
            if _upright(wall, i, down) >= CEILING:
                hanging[label[i]] += held
                depth = thickness[i] - film.solid_thickness[i]
                below[label[i]] += wall.area[i] * min(max(depth - shortest, 0.0), film.volume[i])
            else:
                carried[label[i]] += held
    total = 0.0
    for i in range(n):
        pull = _upright(wall, i, down)
        if label[i] < 0 or pull < CEILING:
            continue
        length = math.sqrt(sigma / (rho * size * pull))
        if hanging[label[i]] <= carried[label[i]] or below[label[i]] <= DEEP_PART * length**3:
            continue
        depth = thickness[i] - film.solid_thickness[i]
        if depth <= length:
            continue
        target = _first_below(wall, i, down)
        if target < 0:
            continue
        takes = GROWTHS * growth_time(depth, size * pull, film.viscosity[i], rho, sigma)
        takes += math.sqrt(2.0 * depth / (size * pull))
        share = (1.0 - math.exp(-dt / takes)) * (1.0 - length / depth)
        total += _drop(wall, film, i, target, share, FOOTPRINT * shortest, fluid.viscosity, fallen)
    return total


@njit(cache=True)
def _upright(wall: Wall, i: int, down: tuple[float, float, float]) -> float:
    """How much of its weight pulls the liquid away from node i: 1 under a level ceiling, -1 on a floor."""
    n0, n1, n2 = wall.normal[i, 0], wall.normal[i, 1], wall.normal[i, 2]
    return float(n0 * down[0] + n1 * down[1] + n2 * down[2])


@njit(cache=True)
def _bodies(wall: Wall, film: Film, thickness: Floats, deep: float) -> Integers:
    """For every node the number of the body of liquid it belongs to, -1 where liquid is not deeper than `deep`."""
    n = film.volume.size
    label = np.full(n, -1)
    queue = np.empty(n, dtype=np.int64)
    count = 0
    for seed in range(n):
        if (
            label[seed] >= 0
            or thickness[seed] - film.solid_thickness[seed] <= deep
            or film.volume[seed] <= DRY
        ):
            continue
        label[seed] = count
        queue[0], first, last = seed, 0, 1
        while first < last:
            i = queue[first]
            first += 1
            for k in range(wall.start[i], wall.start[i + 1]):
                j = wall.other[k]
                if label[j] < 0 and film.volume[j] > DRY and thickness[j] - film.solid_thickness[j] > deep:
                    label[j] = count
                    queue[last] = j
                    last += 1
        count += 1
    return label


@njit(cache=True)
def _first_below(wall: Wall, i: int, down: tuple[float, float, float]) -> int:
    """The node that stands for the first wall which looks up under node i, -1 where there is none."""
    best, nearest = -1, math.inf
    wide = 2.0 * wall.area[i]
    for j in range(wall.area.size):
        d0, d1, d2 = wall.x[j, 0] - wall.x[i, 0], wall.x[j, 1] - wall.x[i, 1], wall.x[j, 2] - wall.x[i, 2]
        along = d0 * down[0] + d1 * down[1] + d2 * down[2]
        if along <= 0.0 or along >= nearest or _upright(wall, j, down) >= 0.0:
            continue
        aside = d0 * d0 + d1 * d1 + d2 * d2 - along * along
        if aside < wide:
            best, nearest = j, along
    return best


@njit(cache=True)
def _drop(
    wall: Wall,
    film: Film,
    i: int,
    target: int,
    share: float,
    radius: float,
    law: ViscosityLaw,
    fallen: Floats,
) -> float:
    """Moves `share` [] of node i's liquid to the nodes within `radius` [m] of `target`; gives its volume [m3]."""
    reach = max(radius * radius, 2.0 * wall.area[target])
    covered = 0.0
    for again in range(2):
        for j in range(wall.area.size):
            d0, d1 = wall.x[j, 0] - wall.x[target, 0], wall.x[j, 1] - wall.x[target, 1]
            d2 = wall.x[j, 2] - wall.x[target, 2]
            if d0 * d0 + d1 * d1 + d2 * d2 > reach or j == i:
                continue
            facing = 0.0
            for axis in range(3):
                facing += wall.normal[j, axis] * wall.normal[target, axis]
            if facing <= 0.0:
                continue
            if again == 0:
                covered += wall.area[j]
            else:
                part = share * wall.area[i] / covered
                before = film.volume[j]
                film.volume[j] += part * film.volume[i]
                film.cured[j] += part * film.cured[i]
                film.heat[j] += part * film.heat[i]
                film.viscosity[j] = brought(
                    film.viscosity[j], before, film.volume[j], film.cured[j], film.heat[j], law
                )
    moved = share * film.volume[i]
    fallen[i] += moved
    film.volume[i] -= moved
    film.cured[i] -= share * film.cured[i]
    film.heat[i] -= share * film.heat[i]
    return float(moved * wall.area[i])
