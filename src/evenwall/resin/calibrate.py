"""From the data sheet to the laws' constants: which value fixes which constant, and what is left over.

The sheet's times are those of a cup with its own heat, so every constant is found through the cup's heat
balance at the sheet's mass and temperature, never as if the cup stayed at room temperature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from scipy.optimize import brentq

from evenwall.errors import ResinError
from evenwall.resin.checks import check_sheet, words
from evenwall.resin.cuptest import CupFit, fit_cups
from evenwall.resin.cure import GAS_CONSTANT, CureLaw
from evenwall.resin.data import DataSheet, Resin, Value, needed
from evenwall.resin.history import time_of_conversion, time_of_viscosity
from evenwall.resin.sheet_cups import (
    FitRow,
    compared,
    conversion_at_demold,
    exotherm_cup,
    setting_seconds,
    sheet_cup,
)
from evenwall.resin.typical import completed
from evenwall.resin.viscosity import ViscosityLaw

FIRM_MARGIN: Final = 0.05  # conversion past gel from which the next coat washes nothing off [-], assumed
CLOSE: Final = 1e-4  # relative
TURNS: Final = 40  # of finding rate, activation and heat in turn
UNMET: Final = 0.02  # a value that should come out and is so far off is told [-]
EXPONENTS: Final = (0.5, 8.0)  # range of exponent_a that is tried [-]
HEATS: Final = (20e3, 600e3)  # range of reaction heats that is tried [J/kg]
CONSTANTS: Final = {
    # constant in FitRow.fixes: the sheet's field that it stands in for
    "rate factor": "rate_factor",
    "viscosity exponent": "exponent_a",
    "activation": "cure_activation",
    "reaction heat": "reaction_heat",
    "demold conversion": "demold_conversion",
}
ACTIVATIONS: Final = (15e3, 110e3)  # range of activation energies that is tried [J/mol]


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """A resin and how it was found."""

    resin: Resin
    rows: tuple[FitRow, ...]  # values of the sheet beside the model's, cup tests taken in
    setting: float  # from flowing to gelled in the sheet's cup [s]: how gradually it sets
    cups: CupFit | None  # what the shop's own cup tests changed; None without tests
    assumed: tuple[str, ...]  # values that the sheet left out
    warnings: tuple[str, ...]  # one sentence each


def calibrate(sheet: DataSheet) -> Resin:
    """The resin of a data sheet; see `calibration` for how each constant was found."""
    return calibration(sheet).resin


def calibration(sheet: DataSheet) -> Calibration:
    """Find the constants of a data sheet's resin.

    Cup tests of the sheet correct what its numbers gave. Raises ResinError for values that can't be or
    disagree, one sentence each. Takes a few milliseconds, and about 50 a cup test.
    """
    warnings = check_sheet(sheet)
    full = completed(sheet)
    resin = _start(full.sheet, sheet)
    if sheet.exponent_a is None and (sheet.gel_time is not None or sheet.setting_time is not None):
        resin = _fit_exponent(resin, sheet)
    else:
        resin = _fit_rate(resin, sheet)
    resin = replace(resin, demold_conversion=conversion_at_demold(resin))
    rows = tuple(compared(resin, sheet))
    fixed = {CONSTANTS[row.fixes] for row in rows if row.fixes}
    unmet = _unmet(sheet.name, rows)
    cups = fit_cups(resin, sheet.cup_tests) if sheet.cup_tests else None
    if cups is not None:
        resin = cups.resin
        rows = tuple(replace(row, fixes="") for row in compared(resin, sheet))
    return Calibration(
        resin=resin,
        rows=rows,
        setting=setting_seconds(resin, sheet_cup(resin)),
        cups=cups,
        assumed=tuple(name for name in full.assumed if name not in fixed),
        warnings=(*warnings, *unmet, *(cups.warnings if cups else ())),
    )


def _unmet(name: str, rows: tuple[FitRow, ...]) -> list[str]:
    """A sentence for each value that its own constant could not bring out."""
    return [
        f"{name}: the {words(row.name)} can't be met beside the other values, the model is {100 * row.residual:+.0f} % "
        "off: check it, or make a cup test"
        for row in rows
        if row.fixes and abs(row.residual) > UNMET
    ]


def _number(value: Value | None, name: str) -> float:
    return needed(value, name).number


def _start(sheet: DataSheet, given: DataSheet) -> Resin:
    """Every constant as the completed sheet has it; the rate is a first guess."""
    flow = _number(sheet.flow_activation, "flow activation")
    gel = _number(sheet.gel_conversion, "gel conversion")
    warm = _number(sheet.viscosity_temperature, "viscosity temperature")
    thin = _number(sheet.viscosity, "viscosity") / math.exp(flow / (GAS_CONSTANT * warm))
    activation = _number(sheet.cure_activation, "cure activation")
    reference = _number(sheet.pot_life_temperature, "pot life temperature")
    speed = 0.5 / _number(sheet.pot_life, "pot life")
    recoat = _number(sheet.recoat, "recoat")
    return Resin(
        name=sheet.name,
        cure=CureLaw(
            rate_factor=speed * math.exp(activation / (GAS_CONSTANT * reference)),
            activation=activation,
            order_n=_number(sheet.order_n, "order n"),
            order_m=_number(sheet.order_m, "order m"),
            seed=_number(sheet.seed, "seed"),
            gel=gel,
        ),
        viscosity=ViscosityLaw(
            factor=thin,
            activation=flow,
            gel=gel,
            exponent_a=_number(sheet.exponent_a, "exponent a"),
            exponent_b=_number(sheet.exponent_b, "exponent b"),
        ),
        density=_number(sheet.density, "density"),
        heat_capacity=_number(sheet.heat_capacity, "heat capacity"),
        conductivity=_number(sheet.conductivity, "conductivity"),
        reaction_heat=_number(sheet.reaction_heat, "reaction heat"),
        surface_tension=_number(sheet.surface_tension, "surface tension"),
        ratio=_number(sheet.ratio, "ratio"),
        density_a=_number(sheet.density_a, "density of A"),
        density_b=_number(sheet.density_b, "density of B"),
        pot_life_viscosity=_number(sheet.pot_life_viscosity, "pot life viscosity"),
        firm_conversion=min(0.99, gel + FIRM_MARGIN),
        demold_conversion=0.9,
        recoat=recoat,
        heat_limit=_number(sheet.heat_limit, "heat limit"),
        sheet=sheet,
        given=given,
    )


def _fit_rate(resin: Resin, given: DataSheet) -> Resin:
    """Rate from the pot life, activation from a second one, heat from the peak: in turn till they stand.

    Pot life goes nearly as 1/rate and the rise nearly as the heat, so each turn corrects by the ratio.
    """
    reference = _number(resin.sheet.pot_life_temperature, "pot life temperature")
    target = _number(resin.sheet.pot_life, "pot life")
    for turn in range(TURNS):
        off = _turn_rate(resin, reference, target)
        resin = _scaled_rate(resin, off)
        worst = abs(off)
        calm = 1.0 if turn < 10 else 0.4
        if given.cure_activation is None and given.second_pot_life is not None:
            resin, change = _turn_activation(resin, given, reference, calm)
            worst = max(worst, change)
        if given.reaction_heat is None and given.peak_exotherm is not None:
            resin, change = _turn_heat(resin, calm)
            worst = max(worst, change)
        if worst < CLOSE:
            return resin
    return _settled(resin, reference, target)


def _settled(resin: Resin, reference: float, target: float) -> Resin:
    """The rate for the pot life alone, between brackets: near the edge of running away nothing else stands."""

    def off(logarithm: float) -> float:
        return -_turn_rate(_scaled_rate(resin, logarithm), reference, target)

    low, high = -1.0, 1.0
    while off(low) > 0.0 and low > -20.0:
        low *= 2.0
    while off(high) < 0.0 and high < 20.0:
        high *= 2.0
    return _scaled_rate(resin, float(brentq(off, low, high, xtol=1e-9)))


def _turn_rate(resin: Resin, reference: float, target: float) -> float:
    """Logarithm of what the rate must be multiplied by for the pot life `target` [s]."""
    history = sheet_cup(resin, temperature=reference)
    found = time_of_viscosity(history, resin.pot_life_viscosity)
    if found <= 0.0:
        raise ResinError(
            f"{resin.name}: at {reference - 273.15:.0f} C the fresh mix is already as thick as the "
            f"{resin.pot_life_viscosity:.3g} Pa s that end its pot life: check viscosity and its temperature, "
            "or say at which viscosity the pot life ends"
        )
    return math.log(2.0) if math.isinf(found) else math.log(found / target)


def _scaled_rate(resin: Resin, logarithm: float) -> Resin:
    cure = resin.cure
    return replace(resin, cure=cure._replace(rate_factor=cure.rate_factor * math.exp(logarithm)))


def _turn_activation(resin: Resin, given: DataSheet, reference: float, calm: float) -> tuple[Resin, float]:
    second = _number(given.second_pot_life_temperature, "second pot life temperature")
    wanted = _number(given.second_pot_life, "second pot life")
    found = time_of_viscosity(sheet_cup(resin, temperature=second), resin.pot_life_viscosity)
    if math.isinf(found) or found <= 0.0:
        return resin, 1.0
    off = math.log(found / wanted)
    old = resin.cure.activation
    step = GAS_CONSTANT * off / (1.0 / reference - 1.0 / second)
    new = min(max(old + 0.7 * calm * step, ACTIVATIONS[0]), ACTIVATIONS[1])
    keep = math.exp((new - old) / (GAS_CONSTANT * reference))
    cure = resin.cure._replace(activation=new, rate_factor=resin.cure.rate_factor * keep)
    return replace(resin, cure=cure), 0.0 if new == old else abs(off)


def _turn_heat(resin: Resin, calm: float) -> tuple[Resin, float]:
    history, start = exotherm_cup(resin)
    wanted = _number(resin.sheet.peak_exotherm, "peak exotherm") - start
    off = (wanted / max(history.peak - start, 1e-3)) ** calm
    new = min(max(resin.reaction_heat * off, HEATS[0]), HEATS[1])
    change = abs(new / resin.reaction_heat - 1.0)
    return replace(resin, reaction_heat=new), change


def _fit_exponent(resin: Resin, given: DataSheet) -> Resin:
    """The exponent of the viscosity's growth, so that gel (else the setting time) comes out too."""

    @cache
    def fitted(exponent: float) -> Resin:
        law = resin.viscosity._replace(exponent_a=exponent)
        return _fit_rate(replace(resin, viscosity=law), given)

    def off(exponent: float) -> float:
        history = sheet_cup(fitted(exponent))
        if given.gel_time is not None:
            got = time_of_conversion(history, resin.cure.gel)
            return min(got, 1e6) - given.gel_time.number
        return min(setting_seconds(fitted(exponent), history), 1e6) - _number(given.setting_time, "setting")

    low, high = EXPONENTS
    if off(low) >= 0.0:
        return fitted(low)
    if off(high) <= 0.0:
        return fitted(high)
    return fitted(float(brentq(off, low, high, xtol=1e-3)))
