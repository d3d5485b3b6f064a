"""What a casting costs: resin, pigment, the mold's share, and the hands' time."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Prices:
    """What things cost in this shop."""

    currency: str  # ISO 4217 code
    resin: float | None  # mixed resin [currency/kg], None where neither shop nor data sheet says it
    pigment: float = 0.0  # [currency/kg]
    filler: float = 0.0  # [currency/kg]
    hour: float = 0.0  # an hour of work [currency]
    mold: float = 0.0  # what the mold cost [currency]
    mold_castings: int = 40  # castings that a mold lasts for


@dataclass(frozen=True, kw_only=True)
class Cost:
    """One casting's cost; shares in the currency's hundredth part."""

    currency: str  # ISO 4217 code
    cents: int  # sum of the shares
    resin_cents: int
    pigment_cents: int
    filler_cents: int
    mold_cents: int
    work_cents: int
    unknown: tuple[str, ...]  # shares left at nothing because no price is known
    per_solid: float  # mix of this casting over that of a solid one []
    saved: float  # mix saved against a solid one [kg]


def casting_cost(
    prices: Prices,
    *,
    resin_mass: float,
    pigment_mass: float,
    filler_mass: float = 0.0,
    hands_time: float,
    solid_mass: float,
) -> Cost:
    """Cost of one casting.

    resin_mass, pigment_mass, filler_mass: all that is mixed, what stays in the cups included [kg]; hands_time:
    minutes of hands, not of waiting [s]; solid_mass: mix of a solid casting of the same piece [kg].
    """
    mixed = resin_mass + filler_mass
    resin = _cents((prices.resin or 0.0) * resin_mass)
    pigment = _cents(prices.pigment * pigment_mass)
    filler = _cents(prices.filler * filler_mass)
    mold = _cents(prices.mold / prices.mold_castings)
    work = _cents(prices.hour * hands_time / 3600.0)
    return Cost(
        currency=prices.currency,
        cents=resin + pigment + filler + mold + work,
        resin_cents=resin,
        pigment_cents=pigment,
        filler_cents=filler,
        mold_cents=mold,
        work_cents=work,
        unknown=("resin",) if prices.resin is None else (),
        per_solid=mixed / solid_mass,
        saved=solid_mass - mixed,
    )


def _cents(amount: float) -> int:
    return round(100.0 * amount)
