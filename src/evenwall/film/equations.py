"""The film's laws at one place of the wall, in the paper's symbols; see docs/equations.md.

h   thickness along the wall's normal [m]         v   liquid volume per wall area [m]
H   mean, K Gauss curvature of the wall [1/m, 1/m2], positive where the cavity is hollow
mu  viscosity [Pa s]                               M   mobility [m3/(Pa s)], q = -M grad Psi
Psi pressure that drives the film [Pa], the change of energy per volume added

Every function here is compiled and takes and gives plain floats.
"""

from __future__ import annotations

import math
from typing import Final

from numba import njit

LEAST_FILL: Final = 0.05  # a node is full where dv/dh has fallen to this: the normals of a hollow wall meet
LEAST_LIFT: Final = 0.4  # dv/dh of the liquid's own surface is not let fall below this
SLOT: Final = 0.03  # volume per area that a full node takes per height of liquid over it []
SMOOTH: Final = 0.5  # share of its depth by which an even film changes over two edges []
DRY: Final = 1e-9  # [m] thinner than this gives nothing away


@njit(cache=True)
def fill_limit(mean: float, gauss: float, least: float) -> float:
    """Thickness [m] at which dv/dh has fallen to `least` [] on curvatures H [1/m], K [1/m2]; may be inf."""
    root = mean * mean - (1.0 - least) * gauss
    if root < 0.0:
        return math.inf
    below = mean + math.sqrt(root)
    if below <= 1e-9:
        return math.inf
    return (1.0 - least) / below


@njit(cache=True)
def volume_of(h: float, mean: float, gauss: float) -> float:
    """v = h - H h^2 + K h^3/3 [m], exact for a parallel surface.

    Roy, Roberts & Simpson, J. Fluid Mech. 454 (2002) 235 (equation from memory, checked against shells).
    Example: inside a sphere of 50 mm, h = 3 mm: v = 2.8236 mm.
    """
    return h * (1.0 - h * (mean - h * gauss / 3.0))


@njit(cache=True)
def slope_of(h: float, mean: float, gauss: float) -> float:
    """dv/dh [-] at thickness h [m]."""
    return 1.0 - h * (2.0 * mean - h * gauss)


@njit(cache=True)
def thickness_of(v: float, mean: float, gauss: float, limit: float, brim: float) -> float:
    """Thickness h [m] of the volume per area v [m]: the inverse of `volume_of` by Newton's method.

    From `brim` [m] on, the volume at the thickness `limit` [m], it is `limit`: there the node is full.
    """
    if v <= 0.0:
        return 0.0
    if v >= brim:
        return limit
    x, y = mean * v, gauss * v * v / 3.0
    series = 1.0 + x + 2.0 * x * x - y + 5.0 * x * (x * x - y)  # of the inverse
    h = min(v * min(max(series, 0.5), 1.5), limit)
    for _ in range(30):
        step = (volume_of(h, mean, gauss) - v) / slope_of(h, mean, gauss)
        h = min(max(h - step, 0.1 * h), limit)
        if abs(step) <= 1e-7 * h:  # the next step would be below round-off: Newton squares the error
            break
    return h


@njit(cache=True)
def surface_of(
    v: float, h: float, slope: float, mean: float, gauss: float, bend: float, bent: float
) -> tuple[float, float]:
    """Thickness [m] at which the liquid's surface counts as bent, and its dv/dh: `h` and `slope`, or straight on.

    Surface tension knows no brim. Beyond `bend` [m], where dv/dh is LEAST_LIFT and v is `bent` [m], the law goes on
    straight; `slope` is 0 where `h` stands at the brim.
    """
    if slope >= LEAST_LIFT:
        return h, slope
    if v >= bent:
        return bend + (v - bent) / LEAST_LIFT, LEAST_LIFT
    h = thickness_of(v, mean, gauss, bend, bent)  # over a brim that another wall sets
    return h, max(slope_of(h, mean, gauss), LEAST_LIFT)


@njit(cache=True)
def mobility(h: float, mu: float, cap: float) -> float:
    """M = h^3/(3 mu + h^2/cap) [m3/(Pa s)]: a Nusselt film, bounded by `cap` = M/h [m2/(Pa s)] in deep pools."""
    return h * h * h / (3.0 * mu + h * h / cap)


@njit(cache=True)
def mobility_slope(h: float, mu: float, cap: float) -> float:
    """dM/dh [m2/(Pa s)]; 0 where `mu` is infinite."""
    bound = h * h / cap
    below = 3.0 * mu + bound
    return (h * h / below) * (3.0 - 2.0 * bound / below)


@njit(cache=True)
def saturated(h: float, knee: float) -> float:
    """h [m] up to `knee` [m], above it bending smoothly toward 2 knee."""
    if h <= knee:
        return h
    over = (h - knee) / knee
    return knee * (1.0 + over / (1.0 + over))


@njit(cache=True)
def saturated_slope(h: float, knee: float) -> float:
    """d saturated/dh [-]."""
    if h <= knee:
        return 1.0
    over = (h - knee) / knee
    return 1.0 / ((1.0 + over) * (1.0 + over))


@njit(cache=True)
def face_thickness(depth: float, run: float, rise: float) -> float:
    """Thickness [m] at the face between a donor of `depth` [m] and its receiver, of third order where even.

    `run` [m] is the rise up to the donor over one edge length, `rise` [m] the rise on to the receiver. A film that
    changes by less than SMOOTH of its depth over the two is taken as it is, crests and troughs too: a limiter
    would flatten them into first order, which evens a sloshing film (Cada & Torrilhon, J. Comput. Phys. 228 (2009)
    4118, section 3). At fronts Koren's limiter bounds the face (Koren 1993, in Vreugdenhil & Koren, eds.).
    """
    plain = (2.0 * rise + run) / 6.0
    rough = (abs(run) + abs(rise)) / (SMOOTH * depth) - 1.0
    if rough <= 0.0:
        return depth + plain
    bounded = 0.0
    if run * rise > 0.0:
        ratio = run / rise
        bounded = 0.5 * rise * min(2.0 * ratio, (2.0 + ratio) / 3.0, 2.0)
    share = min(rough, 1.0)
    return depth + (1.0 - share) * plain + share * bounded
