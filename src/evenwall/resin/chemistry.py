"""What the recipe says before anything is measured: gel conversion, heat of reaction, adiabatic rise."""

from __future__ import annotations

import math
from typing import Final

from evenwall.errors import ResinError

URETHANE_HEAT: Final = 83e3  # heat of reaction of an isocyanate group with a hydroxyl [J/mol], from memory


def gel_conversion(arms: float, partner_arms: float, *, ratio: float = 1.0, share: float = 1.0) -> float:
    """Conversion of the A groups at gel [-], Flory and Stockmayer.

    `arms` of the branch unit (carries A), `partner_arms` of the other kind (carries B), `ratio` A groups per
    B group [-] (at most 1), `share` [-] of the A groups that sit on branch units, the rest on two-armed ones.
    share 1: p = 1/sqrt(r (f - 1) (g - 1)). Else, with g = 2: alpha = r p^2 rho/(1 - r p^2 (1 - rho)) =
    1/(f - 1). W. H. Stockmayer, J. Polym. Sci. 9 (1952) 69; P. J. Flory, Principles of Polymer Chemistry
    (1953), chapter 9 (from memory). Real gels come somewhat later. Example: 3 and 2 arms: 0.7071.
    """
    if not (arms > 2.0 or partner_arms > 2.0) or not 0.0 < ratio <= 1.0 or not 0.0 < share <= 1.0:
        raise ResinError(
            f"{arms:g} and {partner_arms:g} arms at {ratio:g} A per B and {share:g} of A on branches never gel: "
            "one kind needs over 2 arms, ratio and share lie in 0 to 1"
        )
    if share == 1.0:
        return 1.0 / math.sqrt(ratio * (arms - 1.0) * (partner_arms - 1.0))
    if partner_arms != 2.0:
        raise ResinError(
            f"with {share:g} of A on branches the partner must have 2 arms, not {partner_arms:g}"
        )
    alpha = 1.0 / (arms - 1.0)
    return math.sqrt(alpha / (ratio * (share + alpha * (1.0 - share))))


def reaction_heat_of(mass_per_group: float, *, heat: float = URETHANE_HEAT) -> float:
    """Heat of reaction [J/kg] of a mix with `mass_per_group` [kg/mol]. Example: 0.25 is 332 kJ/kg."""
    return heat / mass_per_group


def adiabatic_rise(reaction_heat: float, heat_capacity: float) -> float:
    """Rise [K] at full cure without losses, of [J/kg] over [J/(kg K)]. Example: 332e3, 1800: 184 K."""
    return reaction_heat / heat_capacity
