"""Closed surfaces from few numbers: a loft through girths, and a stand-in of wanted area and volume."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.interpolate import Akima1DInterpolator
from scipy.optimize import brentq

from evenwall.errors import InputError
from evenwall.geometry.solid import area, volume
from evenwall.geometry.surface import FloatArray, Surface, scaled

RINGS: Final = 61
AROUND: Final = 96
LOBES: Final = 8  # rounded ribs of a stand-in
DEEPEST: Final = 0.45  # of its ribs over its radius []
LONGEST: Final = 60.0  # slenderness that is tried []


def loft(heights: npt.ArrayLike, girths: npt.ArrayLike) -> Surface:
    """A closed surface through round sections: `girths` [m] at rising `heights` [m], (k,) each, k >= 2.

    Between them the section's area, girth^2/(4 pi), runs as a smooth curve (Akima 1970, J. ACM 17, 589-602),
    which keeps the ends of a ball round. A girth of 0 is a point, any other end is closed flat.
    Raises InputError for heights that do not rise or girths of nothing.
    """
    z, g = (np.asarray(a, dtype=np.float64).ravel() for a in (heights, girths))
    if len(z) != len(g) or len(z) < 2:
        raise InputError(f"{len(z)} heights and {len(g)} girths: give 2 or more, a girth for each height")
    if not (np.isfinite(z).all() and np.isfinite(g).all() and (np.diff(z) > 0.0).all()):
        raise InputError("the heights of the girths do not rise: list them from the foot upwards")
    if (g < 0.0).any() or (g[1:-1] <= 0.0).any() or g.max() <= 0.0:
        raise InputError("a girth of 0 stands between the ends: only the foot and the top may be points")
    turn = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, RINGS)))
    at = np.union1d(z[0] + (z[-1] - z[0]) * turn, z)
    section = (g / (2.0 * np.pi)) ** 2
    if len(z) > 2:
        square = Akima1DInterpolator(z, section, method="makima")(at)
    else:
        square = np.interp(at, z, g / (2.0 * np.pi)) ** 2
    radius = np.sqrt(np.maximum(square, 0.0))
    return _closed_rings(at, np.maximum(radius, 1e-6 * radius.max()), np.ones(AROUND))


def stand_in(area_wanted: float, volume_wanted: float, *, slenderness: float) -> Surface:
    """A closed surface of the wanted area [m2] and volume [m3], `slenderness` times as long as it is thick.

    A spheroid with rounded ribs along it, just deep enough for the area; where a smooth spheroid has more
    area than wanted it is made less slender, where the ribs would be too deep more slender.
    Raises InputError where a ball of that volume has more area (the isoperimetric inequality).
    """
    ball = float(np.cbrt(36.0 * np.pi * volume_wanted**2))
    if not area_wanted >= ball * (1.0 - 1e-9):
        raise InputError(
            f"an area of {1e4 * area_wanted:.1f} cm2 is below the {1e4 * ball:.1f} cm2 of a ball of "
            f"{1e6 * volume_wanted:.1f} mL, the least there is: check the readings"
        )
    wanted = area_wanted / np.cbrt(volume_wanted**2)

    def excess(ribs: float, long: float) -> float:
        shape = _spheroid(ribs, long)
        return float(area(shape) / np.cbrt(volume(shape) ** 2) - wanted)

    ribs, long = 0.0, max(1.0, slenderness)
    if excess(0.0, long) > 0.0:
        long = 1.0 if excess(0.0, 1.0) >= 0.0 else float(brentq(lambda s: excess(0.0, s), 1.0, long))
    elif excess(DEEPEST, long) >= 0.0:
        ribs = float(brentq(lambda r: excess(r, long), 0.0, DEEPEST))
    else:
        ribs = DEEPEST
        if excess(ribs, LONGEST) < 0.0:
            raise InputError(
                f"an area of {1e4 * area_wanted:.1f} cm2 is too much for a volume of "
                f"{1e6 * volume_wanted:.1f} mL: check the readings"
            )
        long = float(brentq(lambda s: excess(ribs, s), long, LONGEST))
    shape = _spheroid(ribs, long)
    return scaled(shape, float(np.cbrt(volume_wanted / volume(shape))))


def _spheroid(ribs: float, long: float) -> Surface:
    """A spheroid of radius 1 and half length `long` with `ribs` deep ribs that fade at its ends."""
    turn = np.linspace(0.0, np.pi, RINGS)
    radius = np.maximum(np.sin(turn), 1e-6)
    around = 1.0 + 0.5 * ribs * np.cos(LOBES * 2.0 * np.pi * np.arange(AROUND) / AROUND)
    return _closed_rings(-long * np.cos(turn), radius, around)


def _closed_rings(heights: FloatArray, radius: FloatArray, around: FloatArray) -> Surface:
    """Rings about z at rising heights, their radii times `around`, closed at both ends by a fan."""
    angle = 2.0 * np.pi * np.arange(len(around)) / len(around)
    count, rings = len(around), len(heights)
    x = radius[:, None] * around * np.cos(angle)
    y = radius[:, None] * around * np.sin(angle)
    points = np.stack([x, y, np.broadcast_to(heights[:, None], x.shape)], axis=-1).reshape(-1, 3)
    ends = np.array([[0.0, 0.0, heights[0]], [0.0, 0.0, heights[-1]]])
    i, j = (a.ravel() for a in np.meshgrid(np.arange(rings - 1), np.arange(count), indexing="ij"))
    a, b = i * count + j, i * count + (j + 1) % count
    side = np.concatenate([np.stack([a, b, b + count], 1), np.stack([a, b + count, a + count], 1)])
    ring = np.arange(count)
    after = (ring + 1) % count
    foot, top, last = rings * count, rings * count + 1, (rings - 1) * count
    fans = np.concatenate(
        [
            np.stack([np.full(count, foot), after, ring], 1),
            np.stack([np.full(count, top), last + ring, last + after], 1),
        ]
    )
    return Surface(np.concatenate([points, ends]), np.concatenate([side, fans]))
