"""Is a data sheet possible, and does it agree with itself: one sentence for each fault."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

from evenwall.errors import ResinError
from evenwall.resin.data import POT_LIFE_VISCOSITY, DataSheet, Value
from evenwall.resin.typical import TYPICAL, mixed_density, ratio_by_weight

AGREE: Final = 0.03  # more disagreement between ratio by weight and by volume is said [-]
MISTAKEN: Final = 0.12  # more than that is no rounding of a sheet but a wrong number [-], judged

RANGES: Final[dict[str, tuple[float, float, float, str]]] = {
    # field: least and most (SI), what a workshop unit is in SI, that unit
    "ratio": (0.02, 50.0, 1.0, "parts of B on 1 of A"),
    "ratio_by_volume": (0.02, 50.0, 1.0, "parts of B on 1 of A"),
    "ratio_tolerance": (0.001, 0.2, 0.01, "%"),
    "density": (400.0, 3000.0, 1000.0, "g/mL"),
    "density_a": (700.0, 2500.0, 1000.0, "g/mL"),
    "density_b": (700.0, 2500.0, 1000.0, "g/mL"),
    "viscosity": (0.005, 50.0, 0.001, "mPa s"),
    "pot_life": (20.0, 14400.0, 60.0, "min"),
    "pot_life_mass": (0.005, 5.0, 0.001, "g"),
    "pot_life_viscosity": (0.1, 1000.0, 1.0, "Pa s"),
    "second_pot_life": (20.0, 14400.0, 60.0, "min"),
    "setting_time": (0.1, 7200.0, 1.0, "s"),
    "gel_time": (20.0, 28800.0, 60.0, "min"),
    "tack_free": (20.0, 604800.0, 60.0, "min"),
    "recoat": (20.0, 604800.0, 60.0, "min"),
    "demold": (60.0, 604800.0, 60.0, "min"),
    "demold_thickness": (0.001, 0.2, 0.001, "mm"),
    "demold_conversion": (0.5, 0.999, 1.0, ""),
    "exotherm_mass": (0.005, 20.0, 0.001, "g"),
    "shrinkage": (0.0, 0.1, 0.01, "%"),
    "hardness": (1.0, 100.0, 1.0, "Shore D"),
    "tensile_strength": (0.1e6, 500e6, 1e6, "MPa"),
    "tensile_modulus": (1e6, 50e9, 1e6, "MPa"),
    "price": (0.0, 1e5, 1.0, "a kg"),
    "heat_capacity": (500.0, 4000.0, 1.0, "J/(kg K)"),
    "conductivity": (0.05, 3.0, 1.0, "W/(m K)"),
    "reaction_heat": (1e3, 800e3, 1e3, "kJ/kg"),
    "surface_tension": (0.01, 0.08, 1e-3, "mN/m"),
    "cure_activation": (10e3, 150e3, 1e3, "kJ/mol"),
    "flow_activation": (0.0, 120e3, 1e3, "kJ/mol"),
    "order_n": (0.5, 4.0, 1.0, ""),
    "order_m": (0.0, 3.0, 1.0, ""),
    "seed": (1e-4, 1.0, 1.0, ""),
    "gel_conversion": (0.2, 0.95, 1.0, ""),
    "exponent_a": (0.1, 10.0, 1.0, ""),
    "exponent_b": (-5.0, 5.0, 1.0, ""),
    "humidity_limit": (0.05, 1.0, 0.01, "%"),
    "pigment_limit": (0.0, 0.3, 0.01, "%"),
}
#: working time too long to turn by hand [s] (common practice, no source)
TIRESOME, UNREALISTIC = 300.0, 1200.0
COLD, HOT = 263.15, 333.15  # shop temperatures that are believed [K]
SHOP: Final = ("viscosity", "pot_life", "second_pot_life", "demold", "exotherm", "storage")


def check_sheet(sheet: DataSheet) -> tuple[str, ...]:
    """Raise ResinError for the first value that can't be; give the warnings, one sentence each."""
    for name, value in sheet.values():
        _in_range(sheet.name, name, value)
    _temperatures(sheet)
    _order(sheet)
    _thick_from_the_start(sheet)
    _ratio_error(sheet)
    return tuple(_warnings(sheet))


def words(name: str) -> str:
    """A field's name as words: pot_life_mass is "pot life mass"."""
    return name.replace("_", " ")


def _in_range(resin: str, name: str, value: Value) -> None:
    if value.number != value.number or abs(value.number) == float("inf"):
        raise ResinError(f"{resin}: {words(name)} is not a number: type it again from the data sheet")
    if name in RANGES:
        least, most, one, unit = RANGES[name]
        if not least <= value.number <= most:
            raise ResinError(
                f"{resin}: {words(name)} of {value.number / one:.4g} is outside {least / one:.4g} to "
                f"{most / one:.4g} {unit}".rstrip()
                + ": check the number and its unit on the data sheet"
            )
    elif value.number < 0.0:
        raise ResinError(f"{resin}: {words(name)} of {value.number:g} is below 0: check the data sheet")


def _temperatures(sheet: DataSheet) -> None:
    for stem in SHOP:
        value: Value | None = getattr(sheet, f"{stem}_temperature")
        if value is not None and not COLD <= value.number <= HOT:
            raise ResinError(
                f"{sheet.name}: {words(stem)} temperature of {value.number - 273.15:.0f} C is outside "
                "-10 to 60 C: check whether it is in C or F"
            )
    peak, start = sheet.peak_exotherm, sheet.exotherm_temperature or sheet.pot_life_temperature
    begin = (start or TYPICAL["pot_life_temperature"]).number
    if peak is not None and not begin + 1.0 <= peak.number <= 600.0:
        raise ResinError(
            f"{sheet.name}: peak exotherm of {peak.number - 273.15:.0f} C is not between its start of "
            f"{begin - 273.15:.0f} C and 327 C: check whether it is in C or F"
        )


def _order(sheet: DataSheet) -> None:
    """Pot life comes before gel, gel before demold; a second pot life needs another temperature."""
    chain = [sheet.pot_life, sheet.gel_time, sheet.tack_free, sheet.demold, sheet.full_cure]
    names = ["pot life", "gel time", "tack-free time", "demold time", "full cure"]
    there = [(name, value.number) for name, value in zip(names, chain, strict=True) if value is not None]
    for (early, first), (late, then) in itertools.pairwise(there):
        if first >= then and (early, late) != ("tack-free time", "demold time"):
            raise ResinError(
                f"{sheet.name}: {early} of {first / 60:.3g} min is not before {late} of {then / 60:.3g} min: "
                "check both and their units"
            )
    if sheet.second_pot_life is None:
        return
    if sheet.second_pot_life_temperature is None:
        raise ResinError(f"{sheet.name}: the second pot life has no temperature: type it, or leave both out")
    first_at = (sheet.pot_life_temperature or TYPICAL["pot_life_temperature"]).number
    apart = sheet.second_pot_life_temperature.number - first_at
    if abs(apart) < 1.0:
        raise ResinError(
            f"{sheet.name}: both pot lives are at one temperature: they must be 1 C or more apart"
        )
    if sheet.pot_life is not None and (sheet.second_pot_life.number - sheet.pot_life.number) * apart >= 0.0:
        raise ResinError(f"{sheet.name}: the warmer pot life is the longer one: check which belongs to which")


def _thick_from_the_start(sheet: DataSheet) -> None:
    ends = sheet.pot_life_viscosity.number if sheet.pot_life_viscosity else POT_LIFE_VISCOSITY
    if sheet.viscosity is not None and sheet.viscosity.number >= 0.8 * ends:
        raise ResinError(
            f"{sheet.name}: the fresh mix of {sheet.viscosity.number:.3g} Pa s is about as thick as the "
            f"{ends:.3g} Pa s that end its pot life: say at which viscosity the pot life ends"
        )


def _ratio_error(sheet: DataSheet) -> None:
    a, b, mix = sheet.density_a, sheet.density_b, sheet.density
    if a is None or b is None:
        return
    if abs(_ratios_apart(sheet)) > MISTAKEN:
        raise ResinError(f"{_disagreement(sheet)}, over {100 * MISTAKEN:.0f} %: check ratio and densities")
    if mix is not None and sheet.ratio is not None:
        low, high = sorted((a.number, b.number))
        expected = mixed_density(sheet.ratio.number, a.number, b.number)
        if abs(mix.number / expected - 1.0) > 2 * AGREE and not low <= mix.number <= high:
            raise ResinError(
                f"{sheet.name}: a mix of {mix.number / 1000:.3g} g/mL can't come from parts of "
                f"{a.number / 1000:.3g} and {b.number / 1000:.3g} g/mL: check the densities"
            )


def _ratios_apart(sheet: DataSheet) -> float:
    """Ratio by weight that the one by volume means, over the sheet's own, less 1 [-]; 0 where one is missing."""
    a, b, weight, volume = sheet.density_a, sheet.density_b, sheet.ratio, sheet.ratio_by_volume
    if a is None or b is None or weight is None or volume is None:
        return 0.0
    return ratio_by_weight(volume.number, a.number, b.number) / weight.number - 1.0


def _disagreement(sheet: DataSheet) -> str:
    assert sheet.ratio is not None
    assert sheet.ratio_by_volume is not None
    return (
        f"{sheet.name}: {sheet.ratio.number:.4g} of B on 1 of A by weight and {sheet.ratio_by_volume.number:.4g} by "
        f"volume disagree by {100 * abs(_ratios_apart(sheet)):.1f} % at these densities"
    )


def _warnings(sheet: DataSheet) -> Iterator[str]:
    if abs(_ratios_apart(sheet)) > AGREE:
        yield (
            f"{_disagreement(sheet)}, over {100 * AGREE:.0f} %: the weights here follow the ratio by weight, so do not "
            "mix this resin by volume before you have asked its maker"
        )
    life = sheet.pot_life.number if sheet.pot_life is not None else 300.0
    said = f"{sheet.name}: {life / 60:.3g} min of working time"
    if life < 300.0:
        yield (
            f"{said}: ASTM D2471 holds for gel times over 5 min, so for a faster resin its definition serves "
            "but its precision does not"
        )
    elif life > UNREALISTIC:
        yield f"{said} is unrealistic to turn by hand (over 20 min; common practice, no source)"
    elif life > TIRESOME:
        yield f"{said} is tiresome to turn by hand (over 5 min; common practice, no source)"
    tack, demold = sheet.tack_free, sheet.demold
    if tack is not None and demold is not None and tack.number > demold.number:
        yield f"{sheet.name}: it is tack-free only after its demold time: handle it by its edges till then"
