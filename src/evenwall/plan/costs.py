"""What a casting costs: resin, pigment, the mold's share, and the hands' time."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Prices:
    """What things cost in this shop."""

    currency: str  # ISO 4217 code
    resin: float | None  # mixed resin [currency/kg], None where neither shop nor data sheet says it
    pigment: float = 0.0  # [currency/kg]
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
    mold_cents: int
    work_cents: int
    unknown: tuple[str, ...]  # shares left at nothing because no price is known
    per_solid: float  # resin of this casting over that of a solid one []


def casting_cost(
    prices: Prices, *, resin_mass: float, pigment_mass: float, hands_time: float, solid_mass: float
) -> Cost:
    """Cost of one casting.

    resin_mass, pigment_mass: all that is mixed, what stays in the cups included [kg]; hands_time: minutes of
    hands, not of waiting [s]; solid_mass: resin of a solid casting of the same piece [kg].
    """
    resin = _cents((prices.resin or 0.0) * resin_mass)
    pigment = _cents(prices.pigment * pigment_mass)
    mold = _cents(prices.mold / prices.mold_castings)
    work = _cents(prices.hour * hands_time / 3600.0)
    return Cost(
        currency=prices.currency,
        cents=resin + pigment + mold + work,
        resin_cents=resin,
        pigment_cents=pigment,
        mold_cents=mold,
        work_cents=work,
        unknown=("resin",) if prices.resin is None else (),
        per_solid=resin_mass / solid_mass,
    )


def _cents(amount: float) -> int:
    return round(100.0 * amount)
