"""Workshop units to SI and back, at the edges only.

The factors are those of `scipy.constants`; temperatures go through `convert_temperature`.
"""

from __future__ import annotations

from typing import Final

from scipy import constants

from evenwall.errors import InputError

FACTORS: Final[dict[str, float]] = {
    # length [m]
    "m": 1.0,
    "cm": constants.centi,
    "mm": constants.milli,
    "um": constants.micro,
    "in": constants.inch,
    "ft": constants.foot,
    # mass [kg]
    "kg": 1.0,
    "g": constants.gram,
    "oz": constants.oz,
    "lb": constants.lb,
    # volume [m3]
    "m3": 1.0,
    "L": constants.liter,
    "mL": constants.milli * constants.liter,
    "mm3": constants.milli**3,
    "fl oz": constants.fluid_ounce_US,
    # area [m2]
    "m2": 1.0,
    "cm2": constants.centi**2,
    "mm2": constants.milli**2,
    "in2": constants.inch**2,
    # time [s]
    "s": 1.0,
    "min": constants.minute,
    "h": constants.hour,
    # rate of turning [rad/s]
    "rad/s": 1.0,
    "rpm": 2.0 * constants.pi / constants.minute,
    # angle [rad]
    "rad": 1.0,
    "deg": constants.degree,
    # viscosity [Pa s], density [kg/m3]
    "Pa s": 1.0,
    "mPa s": constants.milli,
    "cP": constants.milli,
    "kg/m3": 1.0,
    "g/mL": 1000.0,
}
TEMPERATURES: Final[dict[str, str]] = {"K": "Kelvin", "C": "Celsius", "F": "Fahrenheit"}


def to_si(value: float, unit: str) -> float:
    """SI value of `value` given in the workshop unit `unit`.

    Raises InputError for a unit that is not in the tables. Example: to_si(100, "g") == 0.1.
    """
    if unit in TEMPERATURES:
        return float(constants.convert_temperature(value, TEMPERATURES[unit], "Kelvin"))
    return value * _factor(unit)


def from_si(value: float, unit: str) -> float:
    """`value` (SI) in the workshop unit `unit`; the inverse of `to_si`."""
    if unit in TEMPERATURES:
        return float(constants.convert_temperature(value, "Kelvin", TEMPERATURES[unit]))
    return value / _factor(unit)


def _factor(unit: str) -> float:
    try:
        return FACTORS[unit]
    except KeyError:
        known = ", ".join([*FACTORS, *TEMPERATURES])
        raise InputError(f"unit {unit!r} is not known: use one of {known}") from None
