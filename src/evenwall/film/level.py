"""A pool at rest in a closed solid: how high it stands and what it wets, from plane cuts of its triangles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from evenwall.errors import InputError
from evenwall.film.state import Floats
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, area_vectors


@dataclass(frozen=True, kw_only=True)
class Pool:
    """Liquid at rest; every hollow of the solid is filled to the same level."""

    level: float  # height of its surface along the upward direction, from the axes' origin [m]
    deepest: float  # depth over the solid's lowest point [m]
    wetted: float  # wall area under the level [m2]
    free: float  # area of the liquid's own surface [m2]


def pool(surface: Surface, volume: float, *, down: Floats) -> Pool:
    """The pool of `volume` [m3] in the closed `surface` when `down` (3,) is the direction of gravity.

    Volume under a level is the surface integral of (height - level) times the upward part of the outward
    normal over the wall below it (divergence theorem), exact for the triangles. Raises InputError where
    the liquid does not fit.
    """
    up = -np.asarray(down, dtype=np.float64) / np.linalg.norm(down)
    hollow = enclosed(surface)
    if not 0.0 < volume < hollow:
        raise InputError(
            f"the liquid is {volume / hollow:.2f} times the hollow and must be above 0 and below 1: pour less"
        )
    height = surface.vertices @ up
    low, high = float(height.min()), float(height.max())
    corner = np.sort(height[surface.faces], axis=1)
    vectors = area_vectors(surface)
    rising = vectors @ up

    def missing(level: float) -> float:
        share, mean = _under(corner - level)
        return float(np.sum(rising * share * mean)) - volume

    level = float(brentq(missing, low, high, xtol=1e-12 * (high - low), rtol=1e-14))
    share, _ = _under(corner - level)
    return Pool(
        level=level,
        deepest=level - low,
        wetted=area_below(surface, height - level),
        free=float(-np.sum(rising * share)),
    )


def area_below(surface: Surface, field: Floats) -> float:
    """Area [m2] of the `surface` where a `field` (n,) at its vertices, linear on every triangle, is below 0."""
    share, _ = _under(np.sort(field[surface.faces], axis=1))
    return float(np.sum(np.linalg.norm(area_vectors(surface), axis=1) * share))


def _under(s: Floats) -> tuple[Floats, Floats]:
    """Share of each triangle below zero and its mean height there, from rising corner heights (m, 3)."""
    a, b, c = s[:, 0], s[:, 1], s[:, 2]
    share = np.where(c <= 0.0, 1.0, 0.0)
    moment = np.where(c <= 0.0, (a + b + c) / 3.0, 0.0)
    one = (a < 0.0) & (b >= 0.0)
    part = a[one] ** 2 / ((b[one] - a[one]) * (c[one] - a[one]))
    share[one] = part
    moment[one] = part * a[one] / 3.0
    two = (b < 0.0) & (c > 0.0)
    above = c[two] ** 2 / ((c[two] - a[two]) * (c[two] - b[two]))
    share[two] = 1.0 - above
    moment[two] = (a[two] + b[two] + c[two]) / 3.0 - above * c[two] / 3.0
    return share, np.divide(moment, share, out=np.zeros_like(moment), where=share > 0.0)
