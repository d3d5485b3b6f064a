"""What is known of a resin: the data sheet, each value with its pedigree, and the calibrated resin."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Final, Literal

from evenwall.resin.cure import CureLaw
from evenwall.resin.viscosity import ViscosityLaw

Pedigree = Literal["measured", "data sheet", "typical", "assumed"]

MOST_PACKED: Final = 0.60  # volume fraction at which a usual powder no longer flows [-], typical 0.55 to 0.64
POT_LIFE_VISCOSITY: Final = 3.0  # viscosity that ends the pot life unless the sheet says otherwise [Pa s]


@dataclass(frozen=True, kw_only=True)
class Value:
    """A number with its origin; `low` and `high` bound what it may be, where that is known."""

    number: float  # SI
    source: str  # document, "common practice, no source", or who measured it when
    pedigree: Pedigree
    low: float | None = None  # SI, same unit as number
    high: float | None = None  # SI

    @property
    def band(self) -> tuple[float, float]:
        """Lowest and highest value that it may have (SI); the number itself where no band is known."""
        low = self.number if self.low is None else self.low
        high = self.number if self.high is None else self.high
        return low, high


@dataclass(frozen=True, kw_only=True)
class CupTest:
    """What was seen of one cup of mixed resin."""

    mass: float  # [kg]
    temperature: float  # of the parts when mixed [K]
    air_temperature: float  # [K]
    gel: float | None = None  # it no longer flowed [s since mixing]
    times: tuple[float, ...] = ()  # of thermometer readings [s since mixing]
    temperatures: tuple[float, ...] = ()  # [K]
    diameter: float | None = None  # of the cup [m]; None: the usual cup
    note: str = ""  # who, when, which jugs


@dataclass(frozen=True, kw_only=True)
class Filler:
    """A dry powder or hollow spheres."""

    name: str
    density: float  # of the grains, not of the heap [kg/m3]
    heat_capacity: float = 900.0  # [J/(kg K)], minerals
    conductivity: float = 1.0  # [W/(m K)], minerals; hollow spheres about 0.06
    price: float = 0.0  # [currency/kg]
    most_packed: float = MOST_PACKED  # [-]


@dataclass(frozen=True, kw_only=True)
class DataSheet:
    """A resin's data sheet in SI; None where the sheet is silent (see resin/typical.py for what fills it)."""

    name: str
    ratio: Value | None = None  # by weight [kg B per kg A]
    ratio_by_volume: Value | None = None  # [m3 B per m3 A]
    ratio_tolerance: Value | None = None  # allowed relative error of the ratio by weight [-]
    density_a: Value | None = None  # [kg/m3]
    density_b: Value | None = None  # [kg/m3]
    density: Value | None = None  # of the mix [kg/m3]
    viscosity: Value | None = None  # of the fresh mix [Pa s]
    viscosity_temperature: Value | None = None  # [K]
    pot_life: Value | None = None  # [s]
    pot_life_mass: Value | None = None  # mass that was mixed for it [kg]
    pot_life_temperature: Value | None = None  # [K]
    pot_life_viscosity: Value | None = None  # viscosity that ends it [Pa s]
    second_pot_life: Value | None = None  # at a second temperature, same mass [s]
    second_pot_life_temperature: Value | None = None  # [K]
    gel_time: Value | None = None  # in the pot life's cup [s]
    setting_time: Value | None = None  # from flowing (pot life) to gelled, in the pot life's cup [s]
    tack_free: Value | None = None  # [s]
    recoat: Value | None = None  # longest wait for the next coat to bond well, from gel [s]
    demold: Value | None = None  # of a thick casting [s]
    demold_thickness: Value | None = None  # thickness of that casting [m]
    demold_temperature: Value | None = None  # [K]
    demold_conversion: Value | None = None  # conversion that a thin wall needs at first opening [-]
    full_cure: Value | None = None  # [s]
    peak_exotherm: Value | None = None  # highest temperature [K]
    exotherm_mass: Value | None = None  # of that mass [kg]
    exotherm_temperature: Value | None = None  # which began at [K]
    shrinkage: Value | None = None  # linear [-]
    hardness: Value | None = None  # Shore D [-]
    tensile_strength: Value | None = None  # [Pa]
    tensile_modulus: Value | None = None  # [Pa]
    heat_limit: Value | None = None  # highest temperature the resin should reach [K]
    price: Value | None = None  # [currency per kg]
    shelf_life_opened: Value | None = None  # [s]
    storage_temperature: Value | None = None  # lowest temperature to work from [K]
    humidity_limit: Value | None = None  # highest relative humidity to work in [-]
    heat_capacity: Value | None = None  # [J/(kg K)]
    conductivity: Value | None = None  # [W/(m K)]
    reaction_heat: Value | None = None  # [J/kg]
    surface_tension: Value | None = None  # [N/m]
    cure_activation: Value | None = None  # [J/mol]
    flow_activation: Value | None = None  # [J/mol]
    order_n: Value | None = None  # [-]
    order_m: Value | None = None  # [-]
    seed: Value | None = None  # [-]
    gel_conversion: Value | None = None  # [-]
    exponent_a: Value | None = None  # [-]
    exponent_b: Value | None = None  # [-]
    currency: str = ""
    pack_masses: tuple[float, ...] = ()  # sold sizes, A and B together [kg]
    pigment_limit: Value | None = None  # highest pigment share of the mix [-]
    pigment_into: Literal["A", "B"] = "B"
    moisture_note: str = ""
    hazards: tuple[str, ...] = ()
    cup_tests: tuple[CupTest, ...] = ()  # made of it in this shop

    def values(self) -> Iterator[tuple[str, Value]]:
        """Every value that is there, with its field's name."""
        for item in fields(self):
            value = getattr(self, item.name)
            if isinstance(value, Value):
                yield item.name, value


@dataclass(frozen=True, kw_only=True)
class Resin:
    """A resin ready for computing: laws and constants in SI, and the completed sheet they came from."""

    name: str
    cure: CureLaw
    viscosity: ViscosityLaw
    density: float  # mixed [kg/m3]
    heat_capacity: float  # [J/(kg K)]
    conductivity: float  # [W/(m K)]
    reaction_heat: float  # [J/kg of mix]
    surface_tension: float  # [N/m]
    ratio: float  # by weight [kg B per kg A]
    density_a: float  # [kg/m3]
    density_b: float  # [kg/m3]
    pot_life_viscosity: float  # viscosity that ends the working time [Pa s]
    firm_conversion: float  # from here the next coat does not wash it off [-]
    demold_conversion: float  # coolest place of the wall at first opening [-]
    recoat: float  # longest wait from gel to the next coat [s]
    heat_limit: float  # [K]
    sheet: DataSheet  # completed: no physical value is None
    given: DataSheet  # as it was given, gaps and all
    filler: Filler | None = None  # stirred into it
    filler_share: float = 0.0  # of the mix by mass [-]


def needed(value: Value | None, name: str) -> Value:
    """`value` of a completed sheet; raises LookupError where `name` was left out (an internal fault)."""
    if value is None:
        raise LookupError(f"the data sheet was not completed: {name} is missing")
    return value
