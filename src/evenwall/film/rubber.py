"""Heat in the rubber behind the wall: one column of cells under every wall node, slab by slab.

A column is conduction in a layered slab (plane layers, temperatures averaged over cells, as in
Crank, The Mathematics of Diffusion, chapter 8): first the gelled coats that lie on the rubber, then the
rubber itself in cells that widen away from the wall. The film on top is one more cell with its own
capacity; its mean temperature meets its outer face through the resistance h / (3 k) of a layer that makes
its heat evenly and loses it on one side. The side of the film towards the cavity is taken as insulated:
the air in there holds about a hundredth of the film's heat (see `air`).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit
from scipy import sparse

from evenwall.errors import InputError
from evenwall.film.state import Floats, Rubber
from evenwall.resin.cure import CureLaw, rate

FIRST_CELL: Final = 1.0e-4  # width of the cell next to the wall [m]
STRETCH: Final = 1.4  # each cell is about this many times as wide as the one before []
ROOM_COEFFICIENT: Final = 8.0  # still air and radiation outside the mold [W/(m2 K)], typical
COAT_CELLS: Final = 2  # cells that a gelled coat adds to the column
LANES: Final = 8  # columns that are solved side by side: one alone waits for each of its cells
BARE: Final = 1.0e-7  # a film thinner than this takes no part in the heat exchange [m]


class Column(NamedTuple):
    """What lies behind every wall node, from the wall outwards; n nodes, c cells."""

    temperature: Floats  # (n, c) mean of each cell [K]
    capacity: Floats  # (n, c) heat capacity per wall area [J/(m2 K)]
    resistance: Floats  # (n, c) from a cell's middle to either of its faces [m2 K/W]


def cell_widths(thickness: float, *, first: float = FIRST_CELL, stretch: float = STRETCH) -> Floats:
    """Widths [m], shape (c,), of cells that fill `thickness` [m], the first `first` [m] wide.

    The widths grow geometrically; the factor is at most `stretch` [] and is lowered until the cells fill
    the thickness exactly. A rubber no thicker than one first cell is a single cell.
    """
    if not thickness > 0.0:
        raise InputError(f"the rubber is {thickness} m thick where it must be above 0: measure the mold")
    if thickness <= first:
        return np.array([thickness])
    count = int(np.ceil(np.log1p(thickness / first * (stretch - 1.0)) / np.log(stretch)))
    low, high = 1.0, stretch
    for _ in range(60):
        factor = 0.5 * (low + high)
        if first * np.sum(factor ** np.arange(count)) < thickness:
            low = factor
        else:
            high = factor
    widths = first * (0.5 * (low + high)) ** np.arange(count)
    return np.asarray(widths * (thickness / widths.sum()))


def new_column(rubber: Rubber, nodes: int, *, temperature: float) -> Column:
    """The bare rubber under `nodes` wall nodes, all at `temperature` [K]."""
    widths = cell_widths(rubber.thickness)
    shape = (nodes, len(widths))
    capacity = rubber.density * rubber.heat_capacity * widths
    resistance = 0.5 * widths / rubber.conductivity
    return Column(
        temperature=np.full(shape, float(temperature)),
        capacity=np.ascontiguousarray(np.broadcast_to(capacity, shape)),
        resistance=np.ascontiguousarray(np.broadcast_to(resistance, shape)),
    )


@njit(cache=True, nogil=True)
def rubber_step(
    temperature: Floats,
    capacity: Floats,
    resistance: Floats,
    film_temperature: Floats,
    film_thickness: Floats,
    film_capacity: Floats,
    film_conductivity: float,
    dt: float,
    outside_temperature: float,
    outside_coefficient: float,
) -> Floats:
    """Conduct for `dt` [s] under every node; gives the mean heat flux INTO the film [W/m2], shape (n,).

    `temperature` (n, c) [K] is the columns' and is changed in place; `capacity` (n, c) [J/(m2 K)] and
    `resistance` (n, c) [m2 K/W] describe them (see Column). The film has `film_temperature` (n,) [K],
    `film_thickness` (n,) [m], `film_capacity` (n,) [J/(m2 K)] (density x heat capacity x liquid volume per
    wall area) and `film_conductivity` [W/(m K)]. The outer side loses `outside_coefficient` [W/(m2 K)] x
    (outer face - `outside_temperature` [K]).

    Backward Euler with the film as the first unknown, so any `dt` is stable. The caller adds
    flux dt / film_capacity to the film's temperature; what the film gains the column loses to round-off.
    Where the film is thinner than BARE the flux is 0 and the column's wall side is insulated.
    """
    n, cells = temperature.shape
    flux = np.zeros(n)
    sweep = np.empty((cells, LANES))
    right = np.empty((cells, LANES))
    to_film, drive, inner = np.empty(LANES), np.empty(LANES), np.empty(LANES)
    node = np.empty(LANES, dtype=np.uint32)
    outermost = 1.0 / outside_coefficient if outside_coefficient > 0.0 else np.inf
    per_second = 1.0 / dt
    for begin in range(0, n, LANES):
        for lane in range(LANES):
            i = min(begin + lane, n - 1)  # the last node fills lanes that are left: the same again is no harm
            node[lane] = i
            to_film[lane] = drive[lane] = 0.0
            if film_thickness[i] > BARE and film_capacity[i] > 0.0:
                # the film's own equation C (T1 - T0) = dt G (Twall1 - T1), put into the wall cell's
                own = 1.0 / (film_thickness[i] / (3.0 * film_conductivity) + resistance[i, 0])
                to_film[lane] = own / (1.0 + dt * own / film_capacity[i])
                drive[lane] = film_temperature[i]
            inner[lane] = to_film[lane]
        for j in range(cells):
            for lane in range(LANES):
                i = node[lane]
                further = resistance[i, j + 1] if j + 1 < cells else outermost
                outer = 1.0 / (resistance[i, j] + further)
                store = capacity[i, j] * per_second
                middle = store + inner[lane] + outer
                value = store * temperature[i, j]
                if j == 0:
                    value += to_film[lane] * drive[lane]
                else:
                    middle -= inner[lane] * sweep[j - 1, lane]
                    value += inner[lane] * right[j - 1, lane]
                if j + 1 == cells:
                    value += outer * outside_temperature
                turned = 1.0 / middle
                sweep[j, lane] = outer * turned
                right[j, lane] = value * turned
                inner[lane] = outer
        for back in range(cells):
            j = cells - 1 - back
            for lane in range(LANES):
                if back > 0:
                    right[j, lane] += sweep[j, lane] * right[j + 1, lane]
                temperature[node[lane], j] = right[j, lane]
        for lane in range(LANES):
            flux[node[lane]] = to_film[lane] * (right[0, lane] - drive[lane])
    return flux


@njit(cache=True, nogil=True)
def _cure_and_conduct(
    temperature: Floats,
    capacity: Floats,
    resistance: Floats,
    film_temperature: Floats,
    conversion: Floats,
    film_thickness: Floats,
    film_capacity: Floats,
    film_conductivity: float,
    adiabatic_rise: float,
    law: CureLaw,
    dt: float,
    steps: int,
    outside_temperature: float,
    outside_coefficient: float,
) -> None:
    """`steps` steps of reaction, then conduction; arrays are changed in place."""
    for _ in range(steps):
        for i in range(len(conversion)):
            if film_thickness[i] > BARE:
                gain = min(dt * rate(conversion[i], film_temperature[i], law), 1.0 - conversion[i])
                conversion[i] += gain
                film_temperature[i] += adiabatic_rise * gain
        flux = rubber_step(
            temperature,
            capacity,
            resistance,
            film_temperature,
            film_thickness,
            film_capacity,
            film_conductivity,
            dt,
            outside_temperature,
            outside_coefficient,
        )
        for i in range(len(conversion)):
            if film_capacity[i] > 0.0:
                film_temperature[i] += dt * flux[i] / film_capacity[i]


def rest(
    column: Column,
    film_temperature: Floats,
    conversion: Floats,
    *,
    thickness: Floats,
    capacity: Floats,
    conductivity: float,
    adiabatic_rise: float,
    law: CureLaw,
    duration: float,
    outside_temperature: float,
    outside_coefficient: float = ROOM_COEFFICIENT,
    step: float = 1.0,
) -> tuple[Column, Floats, Floats]:
    """A gelled coat's wait: it cures on and cools through the rubber to the room for `duration` [s].

    Takes the coat's mean `film_temperature` (n,) [K], `conversion` (n,) [], `thickness` (n,) [m],
    `capacity` (n,) [J/(m2 K)], `conductivity` [W/(m K)], `adiabatic_rise` (reaction heat over heat capacity)
    [K] and cure `law`; `step` is the longest time step [s]. Gives the column, the coat's temperature (n,)
    [K] and its conversion (n,) [] at the end; the arguments stay as they are.
    """
    after = column._replace(temperature=column.temperature.copy())
    film = np.array(film_temperature, dtype=np.float64)
    cured = np.array(conversion, dtype=np.float64)
    if duration > 0.0:
        steps = max(1, int(np.ceil(duration / step)))
        _cure_and_conduct(
            after.temperature,
            after.capacity,
            after.resistance,
            film,
            cured,
            np.ascontiguousarray(thickness, dtype=np.float64),
            np.ascontiguousarray(capacity, dtype=np.float64),
            conductivity,
            adiabatic_rise,
            law,
            duration / steps,
            steps,
            outside_temperature,
            outside_coefficient,
        )
    return after, film, cured


def under_coat(
    column: Column,
    *,
    temperature: Floats,
    thickness: Floats,
    capacity: Floats,
    conductivity: float,
    transfer: sparse.csr_array,
) -> Column:
    """The column once a gelled coat lies on it and is wall for the next one.

    The coat has mean `temperature` (n,) [K], `thickness` (n,) [m], `capacity` (n,) [J/(m2 K)] per area of
    the wall it lies on, and `conductivity` [W/(m K)]. `transfer` (m, n) takes fields per area to the m nodes
    of the new wall (see coats.covered): heat stays where it is, so where the wall shrinks the capacity per
    area grows and the resistance falls by the same factor.
    """
    coats = (len(temperature), COAT_CELLS)
    share = np.maximum(capacity, 1.0e-3) / COAT_CELLS  # a dry place keeps a coat of no account
    half = np.maximum(thickness, BARE) / (2.0 * COAT_CELLS * conductivity)
    before = Column(
        temperature=np.hstack([np.broadcast_to(temperature[:, None], coats), column.temperature]),
        capacity=np.hstack([np.broadcast_to(share[:, None], coats), column.capacity]),
        resistance=np.hstack([np.broadcast_to(half[:, None], coats), column.resistance]),
    )
    return carried(before, transfer)


def carried(column: Column, transfer: sparse.csr_array) -> Column:
    """The column on another mesh's nodes; `transfer` (m, n) takes fields per area there. Heat is exact."""
    crowding = (transfer @ np.ones(transfer.shape[1]))[:, None]
    capacity = transfer @ column.capacity
    return Column(
        temperature=np.ascontiguousarray(transfer @ (column.capacity * column.temperature) / capacity),
        capacity=np.ascontiguousarray(capacity),
        resistance=np.ascontiguousarray(transfer @ column.resistance / crowding**2),
    )


def heat_content(column: Column, area: Floats, *, reference: float) -> float:
    """Heat in all columns above `reference` [K] under node areas `area` (n,) [m2], in [J]."""
    return float(np.sum(area[:, None] * column.capacity * (column.temperature - reference)))
