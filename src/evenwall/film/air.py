"""Air shut into the mold: warm resin warms it, its pressure loads the closing, a vent lets it out.

Caution, shown where the mold is closed: warm air pushes a closed mold apart and resin may jet from an
inverted seam; wear eye protection, clamp as the plan says, and follow the resin's safety data sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.integrate import solve_ivp

from evenwall.errors import InputError
from evenwall.film.state import Closing, Finding, Floats, History
from evenwall.geometry.solid import area
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, area_vectors

ATMOSPHERE: Final = 101325.0  # standard pressure [Pa]
GAS_AIR: Final = 287.05  # specific gas constant of dry air [J/(kg K)]
HEAT_AIR: Final = 718.0  # heat capacity of air at constant volume [J/(kg K)]
EXCHANGE: Final = 5.0  # film to still air inside [W/(m2 K)], typical
GIVES: Final = 50.0  # a push over this opens what is only taped shut [N], assumed
ORIFICE: Final = 0.61  # discharge coefficient of a sharp-edged hole []


@dataclass(frozen=True, kw_only=True)
class Air:
    """The shut-in air over time; k instants."""

    time: Floats  # (k,) [s]
    temperature: Floats  # (k,) [K]
    overpressure: Floats  # above the room's (k,) [Pa]
    highest: float  # greatest overpressure [Pa]
    load: float  # greatest push on the closing [N]


def pressure_when_warmed(pressure: float, before: float, after: float) -> float:
    """Pressure [Pa] of gas shut in at `pressure` [Pa], warmed from `before` to `after` [K] at one volume.

    Gay-Lussac: p / T stays. Valid for a gas far from condensing. Example: 360 kPa at 297.15 K are 391.5 kPa
    at 323.15 K.
    """
    if min(before, after) <= 0.0:
        raise InputError(f"temperature {min(before, after):g} K is not above 0 K: give absolute temperatures")
    return pressure * after / before


def push(overpressure: float, opening: float) -> float:
    """Force [N] of `overpressure` [Pa] on a closing over an opening of area `opening` [m2]."""
    return overpressure * opening


def shut_in(
    time: Floats,
    film: Floats,
    *,
    hollow: float,
    wall: float,
    opening: float,
    start: float,
    vent: float = 0.0,
    room_pressure: float = ATMOSPHERE,
    exchange: float = EXCHANGE,
) -> Air:
    """Pressure of the air in a closed mold whose film is at `film` (k,) [K] on the mean at `time` (k,) [s].

    `hollow` [m3] is the air's volume, `wall` [m2] the film's area, `opening` [m2] what the closing covers,
    `start` [K] the air's temperature when closed at `room_pressure` [Pa], `exchange` [W/(m2 K)] between film
    and air. Through a hole of area `vent` [m2] it leaves as through an orifice, m' = C A sqrt(2 rho dp), and
    comes back in the same way when it cools. The air's heat is not taken from the film (about 1 % of it).
    """
    if not (hollow > 0.0 and wall > 0.0):
        raise InputError(f"the hollow ({hollow:g} m3) and its wall ({wall:g} m2) must be above 0")

    def change(t: float, state: Floats) -> list[float]:
        mass, warmth = float(state[0]), float(state[1])
        pressure = mass * GAS_AIR * warmth / hollow
        over = pressure - room_pressure
        dense = mass / hollow if over > 0.0 else room_pressure / (GAS_AIR * start)
        smooth = over / np.sqrt(abs(over) + 1.0)  # square root, rounded off under 1 Pa
        leaving = ORIFICE * vent * np.sqrt(2.0 * dense) * smooth
        heating = exchange * wall * (float(np.interp(t, time, film)) - warmth)
        entering = warmth if leaving > 0.0 else start
        flowing = -leaving * ((HEAT_AIR + GAS_AIR) * entering - HEAT_AIR * warmth)
        return [-leaving, (heating + flowing) / (mass * HEAT_AIR)]

    first = [room_pressure * hollow / (GAS_AIR * start), start]
    solved = solve_ivp(
        change, (float(time[0]), float(time[-1])), first, method="LSODA", t_eval=time, rtol=1e-6, atol=1e-10,
        max_step=5.0,
    )  # fmt: skip
    over = np.asarray(solved.y[0] * GAS_AIR * solved.y[1] / hollow - room_pressure)
    highest = float(max(over.max(), 0.0))
    return Air(
        time=np.asarray(time, dtype=np.float64),
        temperature=np.asarray(solved.y[1]),
        overpressure=over,
        highest=highest,
        load=push(highest, opening),
    )


def air_over(surface: Surface, shot: float, history: History, closing: Closing, *, room: float) -> Air | None:
    """The air over one shot of volume `shot` [m3] in the closed `surface`, from pour to gel.

    `room` [K] is what the air has when the mold is shut. None where the history has no two moments.
    """
    if len(history.times) < 2:
        return None
    return shut_in(
        history.times,
        history.temperature,
        hollow=max(enclosed(surface) - shot, 1e-9),
        wall=area(surface),
        opening=closing.opening or parting(surface),
        start=room,
        vent=closing.vent,
    )


def parting(surface: Surface) -> float:
    """Largest shadow [m2] of the cavity along an axis of the mesh: what pushes the halves of a mold apart.

    Half the sum of the faces' projections (Cauchy), too large where the shadow folds over itself.
    """
    return float(0.5 * np.abs(area_vectors(surface)).sum(axis=0).max())


def air_pushes(air: Air | None, at: Floats, *, board: bool) -> tuple[Finding, ...]:
    """The air's push as a finding at the closing `at` (3,) [m]; amount and limit are forces [N]."""
    if air is None or air.load <= GIVES:
        return ()
    what = "pushes the closing board" if board else "pushes the mold's halves apart"
    return (
        Finding(
            kind="air",
            at=(float(at[0]), float(at[1]), float(at[2])),
            area=0.0,
            amount=air.load,
            limit=GIVES,
            text=f"The resin's heat warms the shut-in air, which {what} with up to {air.load:.0f} N.",
            help="Leave a vent of 1 or 2 mm, or clamp for this force.",
        ),
    )
