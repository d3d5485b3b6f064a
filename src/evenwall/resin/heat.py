"""The two heat balances of a curing mass: one lump (a cup) and a slab on rubber (a film, a thick casting).

Lump:  da/dt = r(a, T),  dT/dt = heating r - cooling (T - surroundings).
Slab:  rho c dT/dt = k d2T/dx2 + rho Q r(a, T) in the resin, plain conduction in the rubber behind it, no
flux through the free side (the cavity's air holds about a hundredth of a film's heat; the middle of a
casting between two mold walls is its plane of symmetry). Carslaw & Jaeger, Conduction of Heat in Solids
(1959), chapter 1 (from memory); backward Euler in space, the reaction split off by the midpoint rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenwall.resin.cure import CureLaw, rate
from evenwall.resin.data import Resin
from evenwall.resin.history import History

Floats = NDArray[np.float64]

STILL_AIR: Final = 10.0  # natural convection and radiation together [W/(m2 K)], typical 8 to 12
CONVERSION_STEP: Final = 0.004  # most that the conversion may grow in one step [-]
FIRST_RUBBER_CELL: Final = 1.0e-4  # [m]
STRETCH: Final = 1.4  # each rubber cell over the one before it, nearly [-]
MOST_STEPS: Final = 60_000


class Rubber(Protocol):
    """What a mold's rubber has to say of itself (the film room's Rubber does)."""

    @property
    def conductivity(self) -> float:
        """[W/(m K)]."""

    @property
    def density(self) -> float:
        """[kg/m3]."""

    @property
    def heat_capacity(self) -> float:
        """[J/(kg K)]."""

    @property
    def thickness(self) -> float:
        """[m]."""


@dataclass(frozen=True, kw_only=True)
class Backing:
    """Rubber behind a film or casting where no mold is at hand: typical silicone of a skin mold.

    Conductivity: 0.224 to 0.249 W/(m K), an instrument maker's guarded heat flow readings by ASTM E1530;
    density and heat capacity from memory.
    """

    conductivity: float = 0.23  # [W/(m K)]
    density: float = 1150.0  # [kg/m3]
    heat_capacity: float = 1300.0  # [J/(kg K)]
    thickness: float = 0.012  # [m]


@njit(cache=True)
def lump_run(
    law: CureLaw,
    heating: float,
    cooling: float,
    surroundings: float,
    conversion: float,
    temperature: float,
    start: float,
    end: float,
    stop_conversion: float,
    stop_at_peak: bool,
    longest_step: float,
) -> Floats:
    """Integrate a lump from `start` to `end` [s] by Runge and Kutta's fourth-order rule; shape (k, 3).

    `heating` [K per unit of conversion], `cooling` [1/s], `surroundings` [K]. Columns: time [s],
    conversion [-], temperature [K]. Steps are cut so that conversion grows by at most CONVERSION_STEP.
    Ends early once past `stop_conversion` [-], or, with `stop_at_peak`, once past gel and cooling.
    """
    out = np.empty((MOST_STEPS, 3))
    t, a, temp = start, conversion, temperature
    k = 0
    while True:
        out[k, 0], out[k, 1], out[k, 2] = t, a, temp
        k += 1
        if t >= end or k >= MOST_STEPS or a >= stop_conversion:
            break
        if stop_at_peak and k > 1 and a > law.gel and temp < out[k - 2, 2]:
            break
        now = rate(a, temp, law)
        dt = min(longest_step, end - t, CONVERSION_STEP / max(now, 1e-12))
        if cooling > 0.0:
            dt = min(dt, 0.3 / cooling)
        a1, w1 = now, heating * now - cooling * (temp - surroundings)
        a2 = rate(a + 0.5 * dt * a1, temp + 0.5 * dt * w1, law)
        w2 = heating * a2 - cooling * (temp + 0.5 * dt * w1 - surroundings)
        a3 = rate(a + 0.5 * dt * a2, temp + 0.5 * dt * w2, law)
        w3 = heating * a3 - cooling * (temp + 0.5 * dt * w2 - surroundings)
        a4 = rate(a + dt * a3, temp + dt * w3, law)
        w4 = heating * a4 - cooling * (temp + dt * w3 - surroundings)
        a = min(1.0, a + dt * (a1 + 2.0 * a2 + 2.0 * a3 + a4) / 6.0)
        temp += dt * (w1 + 2.0 * w2 + 2.0 * w3 + w4) / 6.0
        t += dt
    return out[:k].copy()


@njit(cache=True)
def slab_run(
    law: CureLaw,
    adiabatic_rise: float,
    capacity: Floats,
    link: Floats,
    outside: float,
    resin_cells: int,
    conversion: float,
    temperature: Floats,
    start: float,
    end: float,
    stop_conversion: float,
    longest_step: float,
) -> tuple[Floats, Floats]:
    """Integrate a slab of c cells, the first `resin_cells` of them resin, the last next to the air.

    `adiabatic_rise` [K], `capacity` (c,) [J/(m2 K)], `link` (c,) conductance of each cell to the next, the
    last one to the air [W/(m2 K)], `outside` [K], `temperature` (c,) [K] at `start` (changed in place).
    Ends at `end` [s] or when the least conversion passes `stop_conversion`. Gives (k, 4): time, least
    conversion, its cell's temperature, hottest resin temperature; and the last temperatures (c,).
    """
    out = np.empty((MOST_STEPS, 4))
    cells = len(capacity)
    a = np.full(resin_cells, conversion)
    sweep = np.empty(cells)
    right = np.empty(cells)
    t = start
    k = 0
    while True:
        least = np.argmin(a)
        out[k, 0], out[k, 1], out[k, 2] = t, a[least], temperature[least]
        out[k, 3] = np.max(temperature[:resin_cells])
        k += 1
        if t >= end or k >= MOST_STEPS or a[least] >= stop_conversion:
            break
        fastest = 0.0
        for i in range(resin_cells):
            fastest = max(fastest, rate(a[i], temperature[i], law))
        dt = min(longest_step, end - t, 0.5 * CONVERSION_STEP / max(fastest, 1e-12))
        for i in range(resin_cells):
            half = 0.5 * dt * rate(a[i], temperature[i], law)
            grown = min(
                1.0 - a[i], dt * rate(min(1.0, a[i] + half), temperature[i] + adiabatic_rise * half, law)
            )
            a[i] += grown
            temperature[i] += adiabatic_rise * grown
        inner = 0.0
        for i in range(cells):
            store = capacity[i] / dt
            middle = store + inner + link[i]
            value = store * temperature[i]
            if i == cells - 1:
                value += link[i] * outside
            if i > 0:
                middle -= inner * sweep[i - 1]
                value += inner * right[i - 1]
            sweep[i] = link[i] / middle
            right[i] = value / middle
            inner = link[i]
        temperature[cells - 1] = right[cells - 1]
        for i in range(cells - 2, -1, -1):
            temperature[i] = right[i] + sweep[i] * temperature[i + 1]
        t += dt
    return out[:k].copy(), temperature


def rubber_widths(thickness: float) -> Floats:
    """Widths [m], shape (c,), of cells that fill `thickness` [m] and widen away from the wall."""
    count = max(1, math.ceil(math.log1p(thickness / FIRST_RUBBER_CELL * (STRETCH - 1.0)) / math.log(STRETCH)))
    widths = STRETCH ** np.arange(count)
    return np.asarray(widths * (thickness / widths.sum()), dtype=np.float64)


@dataclass(frozen=True, kw_only=True)
class SlabHistory:
    """How a slab went."""

    slowest: History  # of the cell that is least cured
    hottest: Floats  # (k,) highest resin temperature [K]
    temperature: Floats  # (c,) of every cell at the end, resin, earlier coats, rubber [K]


@dataclass(frozen=True, kw_only=True)
class Behind:
    """What lies behind a coat: earlier coats, then rubber, cell by cell away from the wall."""

    width: Floats  # (c,) [m]
    capacity: Floats  # (c,) [J/(m2 K)]
    half: Floats  # (c,) from a cell's middle to its face [m2 K/W]
    temperature: Floats  # (c,) [K]


def bare_rubber(rubber: Rubber, temperature: float) -> Behind:
    """A mold without a coat, all at `temperature` [K]."""
    width = rubber_widths(rubber.thickness)
    return Behind(
        width=width,
        capacity=rubber.density * rubber.heat_capacity * width,
        half=0.5 * width / rubber.conductivity,
        temperature=np.full(len(width), float(temperature)),
    )


def coated(behind: Behind, resin: Resin, thickness: float, end: Floats) -> Behind:
    """`behind` with a coat of `thickness` [m] in front; `end` (c + 1,) the temperatures it ended with [K]."""
    return Behind(
        width=np.concatenate([[thickness], behind.width]),
        capacity=np.concatenate([[resin.density * resin.heat_capacity * thickness], behind.capacity]),
        half=np.concatenate([[0.5 * thickness / resin.conductivity], behind.half]),
        temperature=end,
    )


def slab_history(
    resin: Resin,
    thickness: float,
    *,
    behind: Behind,
    temperature: float,
    air_temperature: float,
    cells: int = 1,
    conversion: float = 0.0,
    start: float = 0.0,
    end: float = 7200.0,
    stop_conversion: float = 2.0,
    longest_step: float = 10.0,
) -> SlabHistory:
    """Cure a slab of resin `thickness` [m] on what lies `behind` it, its free side insulated.

    `cells`: 1 for a film (its heat leaves through thickness/(3 k), the resistance of a layer that makes its
    heat evenly), 8 or more for a thick casting's half. The resin comes at `temperature` [K] and `conversion`
    [-] at `start` [s since mixing]. Example: a 1 mm coat, thickness=1e-3.
    """
    width = thickness / cells
    capacity = np.concatenate([np.full(cells, resin.density * resin.heat_capacity * width), behind.capacity])
    half = np.concatenate([np.full(cells, 0.5 * width / resin.conductivity), behind.half])
    if cells == 1:
        half[0] = thickness / (3.0 * resin.conductivity)
    rows, last = slab_run(
        resin.cure,
        resin.reaction_heat / resin.heat_capacity,
        capacity,
        1.0 / (half + np.concatenate([half[1:], [1.0 / STILL_AIR]])),
        air_temperature,
        cells,
        conversion,
        np.concatenate([np.full(cells, float(temperature)), behind.temperature]),
        start,
        end,
        stop_conversion,
        longest_step,
    )
    slowest = History(time=rows[:, 0], conversion=rows[:, 1], temperature=rows[:, 2], law=resin.viscosity)
    return SlabHistory(slowest=slowest, hottest=rows[:, 3], temperature=last)
