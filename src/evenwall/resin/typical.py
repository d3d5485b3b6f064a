"""What stands in for a value that the data sheet leaves out: typical ranges with their sources."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

from evenwall.errors import ResinError
from evenwall.resin.cure import GAS_CONSTANT
from evenwall.resin.data import POT_LIFE_VISCOSITY, DataSheet, Value

MINUTE: Final = 60.0
DAY: Final = 86400.0

TRADE: Final = "common practice, no source"
JUDGED: Final = "judgement of evenwall's authors, no source"
CASTRO: Final = "Castro & Macosko, AIChE J. 28 (1982) 250, and three sets like it"
BROYER: Final = "Broyer et al., Polym. Eng. Sci. 18 (1978) 382: nth order fits casting urethanes"
WORKED_OUT: Final = "worked out from the other values of the sheet"
TEN_DEGREES: Final = "an adhesive maker's 10 degree rule: factor 2, by chemistry 1.5 to 2.5"


def activation_of(factor: float, *, low: float = 293.15, high: float = 303.15) -> float:
    """Activation energy [J/mol] that makes a reaction `factor` [-] times as fast at `high` as at `low` [K].

    Arrhenius' law. Example: 2 from 25 C to 35 C is 52.95 kJ/mol.
    """
    return GAS_CONSTANT * math.log(factor) / (1.0 / low - 1.0 / high)


def _typical(number: float, low: float, high: float, source: str) -> Value:
    return Value(number=number, low=low, high=high, source=source, pedigree="typical")


def _assumed(number: float, low: float, high: float, source: str = JUDGED) -> Value:
    return Value(number=number, low=low, high=high, source=source, pedigree="assumed")


TYPICAL: Final[dict[str, Value]] = {
    "ratio_tolerance": _assumed(0.02, 0.01, 0.05),
    "density": _typical(1060.0, 1000.0, 1100.0, TRADE),
    "viscosity": _assumed(0.12, 0.06, 0.5),
    "viscosity_temperature": _typical(296.15, 294.15, 298.15, TRADE),
    "pot_life_mass": _typical(0.1, 0.05, 0.2, TRADE),
    "pot_life_temperature": _typical(296.15, 295.15, 298.15, TRADE),
    "pot_life_viscosity": _assumed(POT_LIFE_VISCOSITY, 1.0, 10.0, "evenwall's definition of pot life"),
    "recoat": _assumed(30.0 * MINUTE, 15.0 * MINUTE, 120.0 * MINUTE),
    "demold": _typical(20.0 * MINUTE, 15.0 * MINUTE, 30.0 * MINUTE, TRADE),
    "demold_thickness": _assumed(0.012, 0.006, 0.025),
    "demold_temperature": _typical(296.15, 294.15, 298.15, TRADE),
    "demold_conversion": _assumed(0.92, 0.88, 0.95),
    "full_cure": _assumed(DAY, 0.5 * DAY, 7.0 * DAY),
    "shrinkage": _assumed(
        0.004, 0.001, 0.02, "linear, from memory; a resin maker's claims start under 0.001"
    ),
    "hardness": _assumed(70.0, 60.0, 82.0, "Shore D, from memory"),
    "tensile_strength": _assumed(25e6, 15e6, 60e6, "from memory"),
    "tensile_modulus": _assumed(1.0e9, 0.5e9, 2.4e9, "from memory"),
    "heat_limit": _assumed(393.15, 373.15, 423.15),
    "shelf_life_opened": _assumed(90.0 * DAY, 30.0 * DAY, 180.0 * DAY),
    "storage_temperature": _assumed(291.15, 288.15, 293.15),
    "humidity_limit": _typical(0.5, 0.4, 0.6, TRADE),
    "heat_capacity": _typical(
        1800.0, 1600.0, 2000.0, "materials table for polyurethane citing Cardarelli 2018"
    ),
    "conductivity": _typical(0.21, 0.17, 0.25, "materials table for polyurethane citing Cardarelli 2018"),
    "reaction_heat": _assumed(180e3, 120e3, 300e3, "83 kJ/mol of isocyanate at 280 to 700 g/eq, from memory"),
    "surface_tension": _assumed(0.035, 0.030, 0.042, "from memory"),
    "cure_activation": _typical(activation_of(2.0), activation_of(1.5), activation_of(2.5), TEN_DEGREES),
    "flow_activation": _typical(41.3e3, 38.3e3, 44.9e3, CASTRO),
    "order_n": _typical(2.0, 1.5, 2.0, BROYER),
    "order_m": _assumed(0.3, 0.0, 0.8),
    "seed": _assumed(0.05, 0.02, 0.1),
    "gel_conversion": _typical(0.65, 0.577, 0.745, CASTRO + "; band: Flory & Stockmayer for 4 to 3 arms"),
    "exponent_a": _typical(2.0, 1.29, 4.0, CASTRO),
    "exponent_b": _typical(1.0, 0.0, 1.86, CASTRO),
    "pigment_limit": _assumed(0.02, 0.01, 0.04),
}


@dataclass(frozen=True, kw_only=True)
class Completed:
    """A data sheet without gaps."""

    sheet: DataSheet
    assumed: tuple[str, ...]  # names of the values that the sheet left out


def completed(sheet: DataSheet) -> Completed:
    """The sheet with what it leaves out taken from TYPICAL, and with ratio and densities worked out.

    Raises ResinError where the ratio or the pot life is missing: nothing can stand in for these.
    """
    if sheet.pot_life is None:
        raise ResinError(
            f"{sheet.name}: the pot life is missing, and every minute follows from it: "
            "type it from the data sheet or make a cup test"
        )
    missing: dict[str, Any] = {name: value for name, value in TYPICAL.items() if getattr(sheet, name) is None}
    filled = _with_ratio(replace(sheet, **missing))
    assumed = [name for name in missing if name != "density" or filled.density is TYPICAL["density"]]
    if sheet.density_a is None or sheet.density_b is None:
        assumed += [name for name in ("density_a", "density_b") if getattr(sheet, name) is None]
    return Completed(sheet=filled, assumed=tuple(assumed))


def unmeasured(sheet: DataSheet) -> Iterator[tuple[str, Value]]:
    """The values that nobody measured or printed, with their fields' names; none that follows from others."""
    for name, value in sheet.values():
        if value.pedigree in ("typical", "assumed") and value.source != WORKED_OUT:
            yield name, value


def mixed_density(ratio: float, density_a: float, density_b: float) -> float:
    """Density [kg/m3] of a mix whose volumes add up, for `ratio` [kg B per kg A] and both [kg/m3].

    Example: equal weights of 1200 and 1000 give 1090.9.
    """
    return (1.0 + ratio) / (1.0 / density_a + ratio / density_b)


def ratio_by_weight(ratio_by_volume: float, density_a: float, density_b: float) -> float:
    """[kg B per kg A] from [m3 B per m3 A] and both densities [kg/m3]; the inverse of `ratio_by_volume`."""
    return ratio_by_volume * density_b / density_a


def ratio_by_volume(ratio: float, density_a: float, density_b: float) -> float:
    """[m3 B per m3 A] from [kg B per kg A] and both densities [kg/m3]. Example: 1 at 1200 and 1000 is 1.2."""
    return ratio * density_a / density_b


def _with_ratio(sheet: DataSheet) -> DataSheet:
    """Both ratios and all three densities, each worked out from the others where it is missing."""
    if sheet.ratio is None and sheet.ratio_by_volume is None:
        raise ResinError(
            f"{sheet.name}: the mix ratio is missing, and a guess would not cure: type it from the label"
        )
    a, b = sheet.density_a, sheet.density_b
    mix = sheet.density if sheet.density is not None else TYPICAL["density"]
    if a is None or b is None:
        same = replace(mix, pedigree="assumed", source="taken as dense as the mix")
        a, b = a or same, b or same
    if sheet.ratio is not None:
        weight = sheet.ratio.number
    else:
        assert sheet.ratio_by_volume is not None
        weight = ratio_by_weight(sheet.ratio_by_volume.number, a.number, b.number)
    given = sheet.density_a is not None and sheet.density_b is not None
    if given and mix is TYPICAL["density"]:
        mix = Value(number=mixed_density(weight, a.number, b.number), source=WORKED_OUT, pedigree=a.pedigree)
    by_weight = sheet.ratio or Value(number=weight, source=WORKED_OUT, pedigree=a.pedigree)
    by_volume = sheet.ratio_by_volume or Value(
        number=ratio_by_volume(weight, a.number, b.number), source=WORKED_OUT, pedigree=a.pedigree
    )
    return replace(sheet, ratio=by_weight, ratio_by_volume=by_volume, density=mix, density_a=a, density_b=b)
