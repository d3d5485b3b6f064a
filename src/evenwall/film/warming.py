"""Cure and heat of the film between flow steps: reaction, mixing with what has gelled, rubber, viscosity."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.film.equations import DRY, thickness_of
from evenwall.film.findings import DRY as WET
from evenwall.film.fluid import Fluid
from evenwall.film.flux import Film
from evenwall.film.operators import Wall
from evenwall.film.rubber import Column, rubber_step
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share
from evenwall.resin.cure import rate
from evenwall.resin.viscosity import viscosity

GAIN: Final = 7  # row of the team's partial sums, which nobody else writes to here


class Outside(NamedTuple):
    """What the rubber's outer side meets."""

    temperature: float  # of the air [K]
    coefficient: float  # of still air and radiation [W/(m2 K)]
    heated: float  # 0: the film keeps its temperature whatever it reacts or touches


class Record(NamedTuple):
    """What is remembered of every node."""

    gel_time: Floats  # (n,) [s], inf before
    wetted: Floats  # (n,) [s], inf before
    peak: Floats  # (n,) [K]
    fallen: Floats  # (n,) liquid that fell from here as drops [m]


def new_record(nodes: int, *, temperature: float) -> Record:
    """Nothing gelled, nothing wetted, everything at `temperature` [K]."""
    return Record(
        gel_time=np.full(nodes, np.inf),
        wetted=np.full(nodes, np.inf),
        peak=np.full(nodes, temperature),
        fallen=np.zeros(nodes),
    )


@njit(cache=True)
def react(conversion: float, temperature: float, rise: float, fluid: Fluid, dt: float) -> float:
    """Conversion [-] after `dt` [s], by the midpoint rule; `rise` [K] is the adiabatic rise (0: isothermal)."""
    half = 0.5 * dt * rate(conversion, temperature, fluid.cure)
    middle = min(conversion + half, 1.0)
    return min(conversion + dt * rate(middle, temperature + rise * half, fluid.cure), 1.0)


@njit(cache=True)
def cure_and_warm(
    team: Team,
    wall: Wall,
    film: Film,
    thickness: Floats,
    fluid: Fluid,
    column: Column,
    outside: Outside,
    record: Record,
    t: float,
    dt: float,
) -> float:
    """Advances every node's conversion and temperature by `dt` [s] up to `t` [s]; gives the largest gain of conversion.

    The viscosity is that of the middle of a next step as long. Where the liquid reaches the gel conversion it joins
    the gelled part of the node and stands.
    """
    first, last = share(team, film.volume.size)
    heated = outside.heated > 0.0
    rise = fluid.reaction_heat / fluid.heat_capacity if heated else 0.0
    warmth = np.empty(last - first)
    capacity = np.zeros(last - first)
    cured = np.zeros(last - first)
    gained = np.zeros(last - first)
    most = 0.0
    for i in range(first, last):
        k = i - first
        v, s = film.volume[i], film.solid[i]
        total = v + s
        warmth[k] = film.solid_temperature[i]
        thickness[i] = thickness_of(total, wall.mean[i], wall.gauss[i], wall.limit[i], wall.brim[i])
        if total <= DRY:
            continue
        temperature = (film.heat[i] + s * film.solid_temperature[i]) / total
        made = 0.0
        if v > DRY:
            before = min(film.cured[i] / v, 1.0)
            cured[k] = react(before, temperature, rise, fluid, dt)
            gained[k] = cured[k] - before
            most = max(most, gained[k])
            made += v * gained[k]
        if s > 0.0:
            before = film.solid_cured[i]
            film.solid_cured[i] = react(before, temperature, rise, fluid, dt)
            made += s * (film.solid_cured[i] - before)
        warmth[k] = temperature + rise * made / total
        capacity[k] = fluid.density * fluid.heat_capacity * total
    if heated:
        gain = rubber_step(
            column.temperature[first:last],
            column.capacity[first:last],
            column.resistance[first:last],
            warmth,
            thickness[first:last],
            capacity,
            fluid.conductivity,
            dt,
            outside.temperature,
            outside.coefficient,
        )
        for k in range(last - first):
            if capacity[k] > 0.0:
                warmth[k] += dt * gain[k] / capacity[k]
    for i in range(first, last):
        k = i - first
        v, s = film.volume[i], film.solid[i]
        temperature = warmth[k]
        if v + s > DRY:
            film.solid_temperature[i] = temperature
            record.peak[i] = max(record.peak[i], temperature)
        if record.wetted[i] == np.inf and thickness[i] > WET:
            record.wetted[i] = t
        if v <= DRY:
            continue
        film.cured[i] = v * cured[k]
        film.heat[i] = v * temperature
        halfway = cured[k] + 0.5 * gained[k]
        if halfway >= fluid.viscosity.gel:
            halfway = cured[k]
        film.viscosity[i] = viscosity(halfway, temperature, fluid.viscosity)
        if cured[k] >= fluid.cure.gel:
            film.solid_cured[i] = (s * film.solid_cured[i] + v * cured[k]) / (s + v)
            film.solid[i] = s + v
            film.solid_thickness[i] = thickness[i]
            film.volume[i] = film.cured[i] = film.heat[i] = 0.0
            if record.gel_time[i] == np.inf:
                record.gel_time[i] = t
    low, high = blocks(team)
    for block in range(low, high):
        team.sums[GAIN, block] = most
    meet(team)
    for block in range(BLOCKS):
        most = max(most, team.sums[GAIN, block])
    return most
