"""The workshop units of a data sheet's values: which key a value has, and how its number comes to SI and back."""

from __future__ import annotations

from dataclasses import fields
from typing import Final

from scipy import constants

from evenwall.resin.data import DataSheet
from evenwall.units import from_si, to_si

TIMES: Final = ("min", "s", "h", "days")
DENSITIES: Final = ("g_mL", "kg_m3")
STRESSES: Final = ("MPa", "GPa", "psi")

UNITS: Final[dict[str, tuple[str, ...]]] = {
    # field of DataSheet: endings that its key may have, the first one is written
    **dict.fromkeys(("pot_life", "second_pot_life", "gel_time", "tack_free", "recoat", "demold"), TIMES),
    "setting_time": ("s", "min", "h", "days"),
    "full_cure": ("h", "min", "s", "days"),
    "shelf_life_opened": ("days", "h", "min", "s"),
    **dict.fromkeys(("density", "density_a", "density_b"), DENSITIES),
    **dict.fromkeys(("pot_life_mass", "exotherm_mass"), ("g", "kg", "oz", "lb")),
    **dict.fromkeys(("viscosity", "pot_life_viscosity"), ("mPa_s", "cP", "Pa_s")),
    **dict.fromkeys(("tensile_strength", "tensile_modulus"), STRESSES),
    **dict.fromkeys(("ratio_tolerance", "shrinkage", "humidity_limit", "pigment_limit"), ("percent",)),
    **dict.fromkeys(("peak_exotherm", "heat_limit"), ("C", "F")),
    **dict.fromkeys(("cure_activation", "flow_activation"), ("kJ_mol",)),
    "demold_thickness": ("mm", "in"),
    "hardness": ("shore_D",),
    "heat_capacity": ("J_kgK",),
    "conductivity": ("W_mK",),
    "reaction_heat": ("kJ_kg",),
    "surface_tension": ("mN_m",),
    "price": ("per_kg", "per_lb"),
}
FACTORS: Final[dict[str, float]] = {
    # endings that evenwall.units does not know, in SI
    "percent": constants.centi,
    "days": constants.day,
    "MPa": constants.mega,
    "GPa": constants.giga,
    "psi": constants.psi,
    "kJ_mol": constants.kilo,
    "kJ_kg": constants.kilo,
    "J_kgK": 1.0,
    "W_mK": 1.0,
    "mN_m": constants.milli,
    "shore_D": 1.0,
    "per_kg": 1.0,
    "per_lb": 1.0 / constants.lb,
}
NAMED: Final = {"g_mL": "g/mL", "kg_m3": "kg/m3", "mPa_s": "mPa s", "Pa_s": "Pa s"}


def keys() -> dict[str, tuple[str, str]]:
    """Every key that a value may have: its field of DataSheet and the unit at its end."""
    found: dict[str, tuple[str, str]] = {}
    for item in fields(DataSheet):
        if item.type != "Value | None" or item.name in ("ratio", "ratio_by_volume"):
            continue
        for unit in units_of(item.name):
            found[key_of(item.name, unit)] = (item.name, unit)
    return found


def units_of(field: str) -> tuple[str, ...]:
    """The units that a field's key may end in, the usual one first; ("",) for a bare number."""
    return ("C", "F") if field.endswith("temperature") else UNITS.get(field, ("",))


def key_of(field: str, unit: str | None = None) -> str:
    """The key of a field in a unit, its usual one where none is given."""
    ending = units_of(field)[0] if unit is None else unit
    return f"{field}_{ending}" if ending else field


def unit_name(unit: str) -> str:
    """A key's ending as people write the unit."""
    names = {"percent": "%", "C": "°C", "F": "°F", "kJ_mol": "kJ/mol", "kJ_kg": "kJ/kg", "J_kgK": "J/(kg K)"}
    more = {
        "W_mK": "W/(m K)",
        "mN_m": "mN/m",
        "shore_D": "Shore D",
        "per_kg": "a kg",
        "per_lb": "a lb",
        "kg_m3": "kg/m³",
    }
    return names.get(unit) or more.get(unit) or NAMED.get(unit, unit)


def to_sheet_si(number: float, unit: str) -> float:
    """A number of the sheet in SI."""
    if not unit:
        return number
    if unit in FACTORS:
        return number * FACTORS[unit]
    return to_si(number, NAMED.get(unit, unit))


def from_sheet_si(value: float, unit: str) -> float:
    """An SI value in a unit of the sheet."""
    if not unit:
        return value
    if unit in FACTORS:
        return value / FACTORS[unit]
    return from_si(value, NAMED.get(unit, unit))
