"""What the sheet's own cups and casting do in the model, beside what the sheet says of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from evenwall.resin.data import DataSheet, Resin, needed
from evenwall.resin.heat import Backing, bare_rubber, slab_history
from evenwall.resin.history import History, time_of_conversion, time_of_viscosity
from evenwall.resin.witness import Cup, cup_history

FLOWING: Final = 1.0  # thickest that still flows freely, about as glycerol or castor oil [Pa s]
CASTING_CELLS: Final = 10


@dataclass(frozen=True, kw_only=True)
class FitRow:
    """One value of the sheet beside what the model gives for it (SI)."""

    name: str  # field of DataSheet
    wanted: float  # sheet's value
    got: float  # model's value
    fixes: str  # the constant that it fixed, "" where it is only compared

    @property
    def residual(self) -> float:
        """Relative difference [-]."""
        return self.got / self.wanted - 1.0


def sheet_cup(resin: Resin, *, temperature: float | None = None, mass: float | None = None) -> History:
    """The cure of the sheet's own cup till gel: its mass and temperature unless given [kg], [K]."""
    sheet = resin.sheet
    warm = needed(sheet.pot_life_temperature, "pot life temperature").number
    start = warm if temperature is None else temperature
    amount = needed(sheet.pot_life_mass, "pot life mass").number if mass is None else mass
    longest = needed(sheet.pot_life, "pot life").number
    if sheet.gel_time is not None:
        longest = max(longest, sheet.gel_time.number)
    if sheet.second_pot_life is not None:
        longest = max(longest, sheet.second_pot_life.number)
    return cup_history(
        resin,
        Cup(),
        amount,
        temperature=start,
        air_temperature=start,
        end=4.0 * longest,
        stop_conversion=resin.cure.gel,
    )


def setting_seconds(resin: Resin, history: History) -> float:
    """Seconds from still flowing to gelled [s]: short for a resin that sets at once.

    Flowing ends at FLOWING, or at twice the fresh mix's viscosity where that is thicker.
    """
    thick = max(FLOWING, 2.0 * float(history.viscosity[0]))
    return time_of_conversion(history, resin.cure.gel) - time_of_viscosity(history, thick)


def exotherm_cup(resin: Resin) -> tuple[History, float]:
    """The cup whose peak the sheet states, and the temperature it starts from [K]."""
    sheet = resin.sheet
    start = (sheet.exotherm_temperature or needed(sheet.pot_life_temperature, "temperature")).number
    mass = (sheet.exotherm_mass or needed(sheet.pot_life_mass, "pot life mass")).number
    went = cup_history(
        resin,
        Cup(),
        mass,
        temperature=start,
        air_temperature=start,
        end=30.0 * needed(sheet.pot_life, "pot life").number,
        stop_at_peak=True,
    )
    return went, start


def thick_casting(resin: Resin) -> History:
    """The coolest place of the sheet's thick casting until the sheet opens its mold."""
    sheet = resin.sheet
    warm = needed(sheet.demold_temperature, "demold temperature").number
    return slab_history(
        resin,
        0.5 * needed(sheet.demold_thickness, "demold thickness").number,
        behind=bare_rubber(Backing(), warm),
        temperature=warm,
        air_temperature=warm,
        cells=CASTING_CELLS,
        end=needed(sheet.demold, "demold").number,
    ).slowest


def conversion_at_demold(resin: Resin) -> float:
    """Conversion that the coolest place of a wall needs at first opening [-].

    The coolest place of the sheet's thick casting has it when the sheet opens its mold; but a thick casting
    also waits till its hot middle has cooled, so the sheet's demold_conversion bounds it from above.
    """
    reached = float(thick_casting(resin).conversion[-1])
    most = needed(resin.sheet.demold_conversion, "demold conversion").number
    return max(min(reached, most), resin.firm_conversion)


def compared(resin: Resin, given: DataSheet) -> list[FitRow]:
    """Every time and peak of the sheet as `given` beside the model's, and which constant it fixed."""
    history = sheet_cup(resin)
    rows = [
        FitRow(
            name="pot_life",
            wanted=needed(resin.sheet.pot_life, "pot life").number,
            got=time_of_viscosity(history, resin.pot_life_viscosity),
            fixes="rate factor",
        )
    ]
    free = given.exponent_a is None
    if given.gel_time is not None:
        got = time_of_conversion(history, resin.cure.gel)
        fixes = "viscosity exponent" if free else ""
        rows.append(FitRow(name="gel_time", wanted=given.gel_time.number, got=got, fixes=fixes))
    if given.setting_time is not None:
        fixes = "viscosity exponent" if free and given.gel_time is None else ""
        got = setting_seconds(resin, history)
        rows.append(FitRow(name="setting_time", wanted=given.setting_time.number, got=got, fixes=fixes))
    if given.second_pot_life is not None:
        second = needed(given.second_pot_life_temperature, "second pot life temperature").number
        got = time_of_viscosity(sheet_cup(resin, temperature=second), resin.pot_life_viscosity)
        fixes = "activation" if given.cure_activation is None else ""
        rows.append(FitRow(name="second_pot_life", wanted=given.second_pot_life.number, got=got, fixes=fixes))
    if given.peak_exotherm is not None:
        got = exotherm_cup(resin)[0].peak
        fixes = "reaction heat" if given.reaction_heat is None else ""
        rows.append(FitRow(name="peak_exotherm", wanted=given.peak_exotherm.number, got=got, fixes=fixes))
    if given.demold is not None:
        went = thick_casting(resin)
        open_at = float(time_of_conversion(went, resin.demold_conversion))
        bound = open_at < 0.98 * given.demold.number
        got = min(open_at, float(went.time[-1]))
        fixes = "" if bound else "demold conversion"
        rows.append(FitRow(name="demold", wanted=given.demold.number, got=got, fixes=fixes))
    return rows
