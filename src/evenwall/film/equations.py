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

STEEPEST_FILL: Final = 0.4  # dv/dh is not let fall below this: the normals of a hollow wall meet
SMOOTH: Final = 0.5  # share of its depth by which an even film changes over two edges []
DRY: Final = 1e-9  # [m] thinner than this gives nothing away


@njit(cache=True)
def fill_limit(mean: float, gauss: float) -> float:
    """Thickness [m] at which dv/dh has fallen to STEEPEST_FILL on curvatures H [1/m], K [1/m2]; may be inf."""
    root = mean * mean - (1.0 - STEEPEST_FILL) * gauss
    if root < 0.0:
        return math.inf
    below = mean + math.sqrt(root)
    if below <= 1e-9:
        return math.inf
    return (1.0 - STEEPEST_FILL) / below


@njit(cache=True)
def volume_of(h: float, mean: float, gauss: float, limit: float) -> float:
    """v = h - H h^2 + K h^3/3 [m], exact for a parallel surface; goes on straight above `limit` [m].

    Roy, Roberts & Simpson, J. Fluid Mech. 454 (2002) 235 (equation from memory, checked against shells).
    Example: inside a sphere of 50 mm, h = 3 mm: v = 2.8236 mm.
    """
    s = min(h, limit)
    v = s * (1.0 - s * (mean - s * gauss / 3.0))
    if h > limit:
        v += STEEPEST_FILL * (h - limit)
    return v


@njit(cache=True)
def slope_of(h: float, mean: float, gauss: float, limit: float) -> float:
    """dv/dh [-] at thickness h [m]."""
    if h >= limit:
        return STEEPEST_FILL
    return 1.0 - h * (2.0 * mean - h * gauss)


@njit(cache=True)
def thickness_of(v: float, mean: float, gauss: float, limit: float) -> float:
    """Thickness h [m] of the volume per area v [m]: the inverse of `volume_of` by Newton's method."""
    if v <= 0.0:
        return 0.0
    h = v * min(max(1.0 + mean * v, 0.5), 1.5)
    if limit < math.inf:
        full = volume_of(limit, mean, gauss, limit)
        if v >= full:
            return limit + (v - full) / STEEPEST_FILL
        h = min(h, limit)
    for _ in range(30):
        step = (volume_of(h, mean, gauss, limit) - v) / slope_of(h, mean, gauss, limit)
        h = max(h - step, 0.1 * h)
        if abs(step) <= 1e-7 * h:  # the next step would be below round-off: Newton squares the error
            break
    return h


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
def overfill_stiffness(b_normal: float, b_size: float, rho: float) -> float:
    """Pressure gained per thickness [Pa/m] above the thickness that fits between the walls.

    Together with the weight of the liquid it makes dPsi/dh at least rho b/2, so that liquid on an upright
    wall or in a narrow hollow is pushed out instead of piling up along the normal without bound.
    `b_normal` [m/s2] is the body force along the wall's normal, `b_size` its magnitude, rho [kg/m3].
    """
    if b_normal >= 0.0:
        return 0.5 * rho * b_size
    return max(0.0, rho * (0.5 * b_size + b_normal))


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
