"""The cup: a mass of mixed resin with its own heat, and what it loses through wall, bottom and surface."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenwall.errors import ResinError
from evenwall.resin.data import Resin
from evenwall.resin.heat import STILL_AIR, lump_run
from evenwall.resin.history import History, state_at, time_of_conversion, time_of_viscosity


@dataclass(frozen=True, kw_only=True)
class Cup:
    """A round, straight cup; the usual one is a plastic cup as wide as a hand's grip."""

    diameter: float = 0.07  # inner [m]
    wall: float = 0.0008  # thickness [m]
    wall_conductivity: float = 0.2  # [W/(m K)]; about 0.035 for a foam cup
    wall_heat: float = 1.7e6  # heat capacity by volume [J/(m3 K)]; about 0.04e6 for a foam cup
    tilted: bool = False  # a rest that ran together in the corner of a tilted cup: half the bottom


@dataclass(frozen=True, kw_only=True)
class HeatBalance:
    """A lump's two constants (see resin/heat.py)."""

    heating: float  # rise at full conversion without losses [K]
    cooling: float  # share of the excess temperature lost in a second [1/s]


def fill_depth(cup: Cup, mass: float, density: float) -> float:
    """Depth [m] of `mass` [kg] of a mix of `density` [kg/m3] lying in `cup`."""
    bottom = 0.25 * math.pi * cup.diameter**2 * (0.5 if cup.tilted else 1.0)
    return mass / (density * bottom)


def heat_balance(resin: Resin, cup: Cup, mass: float) -> HeatBalance:
    """Heating and cooling of `mass` [kg] in `cup`, with still air all round it.

    The wetted wall is as warm as the resin and takes its share of the heat; the way out is through the
    resin itself ((V/A)/(3 k) [m2 K/W]), the wall and still air. Valid for 1 g to 2 kg.
    """
    if not mass > 0.0:
        raise ResinError(f"the cup holds {1e3 * mass:g} g where it must hold more than 0 g: weigh it again")
    bottom = 0.25 * math.pi * cup.diameter**2 * (0.5 if cup.tilted else 1.0)
    depth = fill_depth(cup, mass, resin.density)
    wetted = bottom + math.pi * cup.diameter * depth
    surface = wetted + bottom
    volume = mass / resin.density
    store = mass * resin.heat_capacity + wetted * cup.wall * cup.wall_heat
    inside = volume / surface / (3.0 * resin.conductivity)
    behind_wall = inside + cup.wall / cup.wall_conductivity + 1.0 / STILL_AIR
    in_the_open = inside + 1.0 / STILL_AIR
    return HeatBalance(
        heating=mass * resin.reaction_heat / store,
        cooling=(wetted / behind_wall + bottom / in_the_open) / store,
    )


def cup_history(
    resin: Resin,
    cup: Cup,
    mass: float,
    *,
    temperature: float,
    air_temperature: float,
    conversion: float = 0.0,
    start: float = 0.0,
    end: float = 7200.0,
    stop_conversion: float = 2.0,
    stop_at_peak: bool = False,
) -> History:
    """Cure of `mass` [kg] in `cup` from `start` to `end` [s since mixing] at first `temperature` [K].

    Ends early past `stop_conversion` [-], or past its peak where only that is asked for.
    """
    balance = heat_balance(resin, cup, mass)
    rows = lump_run(
        resin.cure,
        balance.heating,
        balance.cooling,
        air_temperature,
        conversion,
        temperature,
        start,
        end,
        stop_conversion,
        stop_at_peak,
        max(1.0, 0.002 * (end - start)),
    )
    return History(time=rows[:, 0], conversion=rows[:, 1], temperature=rows[:, 2], law=resin.viscosity)


def rest_history(
    resin: Resin,
    cup: Cup,
    *,
    mixed: float,
    rest: float,
    poured_at: float,
    temperature: float,
    air_temperature: float,
    end: float = 7200.0,
) -> History:
    """Cure of what stays in the mixing cup: `mixed` [kg] till `poured_at` [s], then the thin `rest` [kg]."""
    before = cup_history(
        resin, cup, mixed, temperature=temperature, air_temperature=air_temperature, end=poured_at
    )
    conversion, warm = state_at(before, poured_at)
    return cup_history(
        resin,
        cup,
        rest,
        temperature=warm,
        air_temperature=air_temperature,
        conversion=conversion,
        start=poured_at,
        end=end,
    )


def pot_life(resin: Resin, history: History) -> float:
    """When the mix is as thick as what ends its working time: [s since mixing]; infinite if never."""
    return time_of_viscosity(history, resin.pot_life_viscosity)


def gel_time(resin: Resin, history: History) -> float:
    """When the mix gels: [s since mixing], infinite where it does not within the history."""
    return time_of_conversion(history, resin.cure.gel)
