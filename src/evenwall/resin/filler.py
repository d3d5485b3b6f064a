"""What a filler does to the mix: density, viscosity, heat and price of the filled resin."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from evenwall.errors import ResinError
from evenwall.resin.data import MOST_PACKED, Filler, Resin
from evenwall.resin.viscosity import viscosity

INTRINSIC: Final = 2.5  # Einstein's coefficient for spheres [-]
VALID: Final = 0.45  # largest volume fraction that the law is used for [-]
SHOP: Final = 295.15  # temperature that the fresh mix is judged at [K]


@dataclass(frozen=True, kw_only=True)
class Filled:
    """A filled resin and what the filler did."""

    resin: Resin
    volume_fraction: float  # of filler in the mix [-]
    viscosity_factor: float  # over the unfilled mix [-]
    viscosity_band: tuple[float, float]  # of that factor, for packings 0.04 looser and tighter [-]
    price: float | None  # of the filled mix [currency/kg]; None: the resin's is not known
    too_thick: bool  # the fresh mix is already past the end of its working time


def volume_fraction(mass_fraction: float, *, filler_density: float, resin_density: float) -> float:
    """Filler's share of the volume [-] from its share of the mass [-] and both densities [kg/m3].

    Example: 0.5 of chalk (2700) in a resin of 1080 is 0.286.
    """
    filler = mass_fraction / filler_density
    return filler / (filler + (1.0 - mass_fraction) / resin_density)


def relative_viscosity(fraction: float, *, most_packed: float = MOST_PACKED) -> float:
    """Viscosity of a suspension over its liquid's [-] at a filler's volume `fraction` [-].

    (1 - fraction/most_packed)^(-2.5 most_packed): Krieger & Dougherty, Trans. Soc. Rheol. 3 (1959) 137 (form
    as tabulated in Entropy 23 (2021) 979, table 6). Rounded grains, not fibres or fumed silica, which thicken
    far more; valid up to 0.75 of the packing. Example: 0.2 at 0.6: 1.837.
    """
    if not 0.0 <= fraction < most_packed:
        raise ResinError(
            f"a filler volume of {100 * fraction:.0f} % is not under the {100 * most_packed:.0f} % at which the mix "
            "no longer flows: use less"
        )
    return float((1.0 - fraction / most_packed) ** (-INTRINSIC * most_packed))


def filled(resin: Resin, filler: Filler, mass_fraction: float) -> Filled:
    """The resin with `mass_fraction` [-] of the mix being `filler`.

    The filler dilutes the heat, takes its share of it, and thickens; rate and gel point are the resin's own
    (a filler that catalyses or holds water changes them: make a cup test). Raises ResinError out of range.
    """
    if not 0.0 <= mass_fraction < 0.9:
        raise ResinError(f"a filler share of {100 * mass_fraction:g} % is outside 0 to 90 %: use less")
    fraction = volume_fraction(mass_fraction, filler_density=filler.density, resin_density=resin.density)
    if fraction > min(VALID, 0.75 * filler.most_packed):
        raise ResinError(
            f"{filler.name}: {100 * mass_fraction:.0f} % by weight is {100 * fraction:.0f} % by volume, over the "
            f"{100 * min(VALID, 0.75 * filler.most_packed):.0f} % that still pours: use less"
        )
    factor = relative_viscosity(fraction, most_packed=filler.most_packed)
    density = mass_fraction / filler.density + (1.0 - mass_fraction) / resin.density
    liquid = 1.0 - mass_fraction
    changed = replace(
        resin,
        viscosity=resin.viscosity._replace(factor=resin.viscosity.factor * factor),
        density=1.0 / density,
        heat_capacity=liquid * resin.heat_capacity + mass_fraction * filler.heat_capacity,
        conductivity=_mixed_conductivity(resin.conductivity, filler.conductivity, fraction),
        reaction_heat=liquid * resin.reaction_heat,
        filler=filler,
        filler_share=mass_fraction,
    )
    price = resin.sheet.price
    return Filled(
        resin=changed,
        volume_fraction=fraction,
        viscosity_factor=factor,
        viscosity_band=(
            relative_viscosity(fraction, most_packed=filler.most_packed + 0.04),
            relative_viscosity(fraction, most_packed=filler.most_packed - 0.04),
        ),
        price=None if price is None else liquid * price.number + mass_fraction * filler.price,
        too_thick=viscosity(0.0, SHOP, changed.viscosity) >= resin.pot_life_viscosity,
    )


def _mixed_conductivity(resin: float, grain: float, fraction: float) -> float:
    """Maxwell, A Treatise on Electricity and Magnetism (1873), art. 314 (from memory): spheres in a matrix."""
    contrast = (grain - resin) / (grain + 2.0 * resin)
    return resin * (1.0 + 2.0 * fraction * contrast) / (1.0 - fraction * contrast)
