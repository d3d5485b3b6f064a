"""How thick the mixed resin is: Castro and Macosko's law up to the gel point."""

from __future__ import annotations

import math
from typing import NamedTuple

from numba import njit

from evenwall.resin.cure import GAS_CONSTANT


class ViscosityLaw(NamedTuple):
    """Constants of mu = factor exp(activation/(R T)) (gel/(gel - a))^(exponent_a + exponent_b a).

    Castro & Macosko, AIChE J. 28 (1982) 250. Valid below the gel point; shear does not matter (Richter &
    Macosko, Polym. Eng. Sci. 20 (1980), abstract). Example: their second set at 25 C, a = 0: 1.7713 Pa s.
    """

    factor: float  # [Pa s]
    activation: float  # flow activation energy [J/mol]
    gel: float  # conversion at which the viscosity is without bound [-]
    exponent_a: float  # [-]
    exponent_b: float  # [-]


@njit(cache=True)
def viscosity(conversion: float, temperature: float, law: ViscosityLaw) -> float:
    """Viscosity [Pa s] at `conversion` [-] and `temperature` [K]; infinite at and past the gel point."""
    if conversion >= law.gel:
        return math.inf
    a = max(conversion, 0.0)
    thin = law.factor * math.exp(law.activation / (GAS_CONSTANT * temperature))
    growth: float = (law.gel / (law.gel - a)) ** (law.exponent_a + law.exponent_b * a)
    return thin * growth
