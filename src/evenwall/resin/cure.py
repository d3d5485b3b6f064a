"""How fast the mixed resin reacts: autocatalytic rate with Arrhenius temperature."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from numba import njit

GAS_CONSTANT: Final = 8.314462618  # [J/(mol K)], CODATA 2018, exact
FRESH: Final = 0.0  # conversion of a fresh mix; the law's own seed makes it start


class CureLaw(NamedTuple):
    """Constants of da/dt = rate_factor exp(-activation/(R T)) (seed + a)^order_m (1 - a)^order_n.

    `a` is the conversion: 0 for a fresh mix (not `seed`), 1 for a full cure. The seed stands for the
    uncatalysed share of the rate, so that a fresh mix starts by itself. Form: Kamal & Sourour, Polym. Eng.
    Sci. 13 (1973) 59, eq. 5, with k1 and k2 of one temperature dependence (from memory).
    Valid for 0 <= a < 1 and 270 K to 450 K. Example: rate(0.0, 295.0, law) is the rate of a fresh mix.
    """

    rate_factor: float  # Arrhenius factor [1/s]
    activation: float  # activation energy [J/mol]
    order_n: float  # order in what is left [-]
    order_m: float  # order of the autocatalysis [-]
    seed: float  # what starts the autocatalysis [-]
    gel: float  # conversion at the gel point [-]


@njit(cache=True)
def rate(conversion: float, temperature: float, law: CureLaw) -> float:
    """Rate of conversion [1/s] at `conversion` [-] and `temperature` [K]; zero at full cure."""
    left = 1.0 - conversion
    if left <= 0.0:
        return 0.0
    arrhenius = law.rate_factor * math.exp(-law.activation / (GAS_CONSTANT * temperature))
    speed: float = arrhenius * (law.seed + max(conversion, 0.0)) ** law.order_m * left**law.order_n
    return speed
