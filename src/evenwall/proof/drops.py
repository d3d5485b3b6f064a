"""Drops under a ceiling: the largest that hangs, and when it lets go."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from scipy.integrate import solve_ivp

from evenwall.film.drops import FOOTPRINT, LARGEST_DROP, growth_time
from evenwall.film.state import Floats
from evenwall.proof.table import Row, within
from evenwall.turning.kinematics import GRAVITY

LAPLACE: Final = "Young and Laplace's equation for a drop under a wetted ceiling, integrated by scipy"
CEILING: Final = "Fermigier et al., J. Fluid Mech. 236 (1992) 349: 12 mu sigma / ((rho g)^2 h^3)"
NARROWEST: Final = (
    3.8317  # radius of a drop hardly hanging, first zero of J1: linear theory, in capillary lengths
)


def rows(*, full: bool) -> Iterator[Row]:
    """Size of the largest drop and growth time; `full` looks closer for the largest."""
    drops = [hanging(apex) for apex in np.linspace(1.1, 1.6, 101 if full else 21)]
    volume, radius = max(drops)
    yield within("largest drop under a wetted ceiling", volume, LARGEST_DROP, 2e-3, unit="capillary lengths cubed",
                 source=LAPLACE)  # fmt: skip
    yield within("radius of the largest drop under a wetted ceiling", radius, FOOTPRINT, 0.02,
                 unit="capillary lengths", source=LAPLACE)  # fmt: skip
    yield within("radius of a drop that hardly hangs", NARROWEST, hanging(50.0)[1], 2e-3, unit="capillary lengths",
                 source="Fermigier et al., J. Fluid Mech. 236 (1992) 349: h = J0(r / l_c), first zero of J1",
                 status="from memory")  # fmt: skip
    yield within("growth time of ripples on 0.5 mm under a ceiling", 3.16898,
                 growth_time(5e-4, GRAVITY, 0.1, 1050.0, 0.035), 1e-3, unit="s", source=CEILING)  # fmt: skip


def hanging(apex: float) -> tuple[float, float]:
    """Volume [l_c^3] and greatest radius [l_c] of the hanging drop whose lowest point is round by `apex` [l_c].

    dr/ds = cos a, dz/ds = sin a, da/ds = 2/apex - z - sin a / r from its lowest point up to the level ceiling.
    """

    def along(_: float, y: Floats) -> list[float]:
        r, z, slope, _held = y
        across = math.sin(slope) / r if r > 1e-6 else 1.0 / apex
        return [math.cos(slope), math.sin(slope), 2.0 / apex - z - across, math.pi * r * r * math.sin(slope)]

    def level(s: float, y: Floats) -> float:
        return float(y[2]) if s > 0.01 else 1.0

    level.terminal = True  # type: ignore[attr-defined]
    start = [1e-9, 0.0, 0.0, 0.0]
    found = solve_ivp(along, (0.0, 20.0), start, events=level, rtol=1e-9, atol=1e-12)
    return float(found.y[3, -1]), float(found.y[0].max())
