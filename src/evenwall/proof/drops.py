"""Drops under a ceiling: the largest that hangs, and when it lets go."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from evenwall.film.coat import run_coat
from evenwall.film.drops import DEEP_PART, FOOTPRINT, LARGEST_DROP, growth_time
from evenwall.film.fluid import constant_fluid
from evenwall.film.operators import build_wall
from evenwall.film.state import Floats
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.proof.table import Row, within
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import still

LAPLACE: Final = "Young and Laplace's equation for a drop under a wetted ceiling, integrated by scipy"
CEILING: Final = "Fermigier et al., J. Fluid Mech. 236 (1992) 349: 12 mu sigma / ((rho g)^2 h^3)"
LINEAR: Final = "Fermigier et al., J. Fluid Mech. 236 (1992) 349: h = J0(r / l_c), first zero of J1"
NARROWEST: Final = (
    3.8317  # radius of a drop hardly hanging, first zero of J1: linear theory, in capillary lengths
)


def rows(*, full: bool) -> Iterator[Row]:
    """Size of the largest drop, what the film lets hang, growth time; `full` looks closer for the largest."""
    shapes = [hanging(apex) for apex in np.linspace(1.1, 1.6, 101 if full else 21)]
    largest = max(shapes, key=lambda shape: shape.volume)
    yield within("largest drop under a wetted ceiling", largest.volume, LARGEST_DROP, 2e-3,
                 unit="capillary lengths cubed", source=LAPLACE)  # fmt: skip
    yield within("radius of the largest drop under a wetted ceiling", float(largest.radius.max()), FOOTPRINT, 0.02,
                 unit="capillary lengths", source=LAPLACE)  # fmt: skip
    deep = np.maximum(largest.depth - 1.0, 0.0)
    yield within("what of it hangs more than a capillary length under the ceiling",
                 float(np.trapezoid(2.0 * math.pi * largest.radius * deep, largest.radius)), DEEP_PART, 0.01,
                 unit="capillary lengths cubed", source=LAPLACE)  # fmt: skip
    yield within("drop of that shape from which on it falls from the film's wall", largest.volume,
                 _first_to_fall(largest), 0.05, unit="capillary lengths cubed",
                 source=LAPLACE)  # fmt: skip
    yield within("radius of a drop that hardly hangs", NARROWEST, float(hanging(50.0).radius.max()), 2e-3,
                 unit="capillary lengths", source=LINEAR, status="from memory")  # fmt: skip
    yield within("growth time of ripples on 0.5 mm under a ceiling", 3.16898,
                 growth_time(5e-4, GRAVITY, 0.1, 1050.0, 0.035), 1e-3, unit="s", source=CEILING)  # fmt: skip


def _first_to_fall(shape: Drop) -> float:
    """Volume [capillary lengths cubed] of a drop of that `shape`, made deeper, from which the film lets some fall."""
    fluid = constant_fluid(viscosity=1e4, density=1050.0, surface_tension=0.035)
    length = math.sqrt(0.035 / (1050.0 * GRAVITY))
    round_one = ball(10.0 * length, rounds=4)
    flat = Surface(round_one.vertices * [1.0, 1.0, 0.8], round_one.faces)
    wall = build_wall(flat, curved=False)
    aside = np.hypot(wall.x[:, 0], wall.x[:, 1]) / length
    above = wall.x[:, 2] > 0.0
    depth = np.where(above, np.interp(aside, shape.radius, shape.depth, right=0.0), 0.0) * length
    held = float(wall.area @ depth) / length**3

    def falls(times: float) -> float:
        run = run_coat(wall, fluid, still(), volume=times * depth, until=0.25)
        return 1.0 if run.record.fallen.any() else -1.0

    return held * float(brentq(falls, 0.8, 1.3, xtol=5e-3))


@dataclass(frozen=True, kw_only=True)
class Drop:
    """A drop at rest under a level, wetted ceiling, in capillary lengths."""

    volume: float  # [l_c^3]
    radius: Floats  # of the places on its surface, from its lowest point on (k,) [l_c]
    depth: Floats  # of those places under the ceiling (k,) [l_c]


def hanging(apex: float) -> Drop:
    """The hanging drop whose lowest point is round by `apex` [l_c].

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
    found = solve_ivp(along, (0.0, 20.0), start, events=level, rtol=1e-9, atol=1e-12, max_step=0.02)
    return Drop(volume=float(found.y[3, -1]), radius=found.y[0], depth=found.y[1, -1] - found.y[1])
