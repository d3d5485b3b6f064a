"""The finished piece in the hand: its weight, and a thumb on the thinnest place of its wall."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.film.findings import averaging, local_means
from evenwall.film.operators import inward_normals
from evenwall.film.state import FilmForecast
from evenwall.geometry.curvature import curvatures
from evenwall.resin.data import Resin
from evenwall.resin.strength import InTheHand, in_the_hand

ROUND: Final = 4e-3  # curvature is averaged over so much, or over the wall where that is thicker [m], assumed


@dataclass(frozen=True, kw_only=True)
class InHand:
    """What the piece will be in the hand."""

    weight: float  # [kg]
    least_wall: float  # lowest mean over 25 mm2 [m]
    at: tuple[float, float, float]  # its place, mold axes [m]
    radius: float  # of the wall there; half the piece's size where it is flat or a saddle [m]
    thumb: InTheHand  # a thumb pushing there


def piece_in_hand(resin: Resin, film: FilmForecast, *, weight: float) -> InHand:
    """The forecast piece of `weight` [kg] under a thumb at its thinnest patch."""
    wall = film.wall
    patch = local_means(
        film.total, film.kept_area, averaging(wall.vertices, inward_normals(wall), film.kept_area)
    )
    node = int(np.nanargmin(patch))
    least = float(patch[node])
    bent = curvatures(wall, scale=max(ROUND, float(film.figures.mean)))
    size = 0.5 * float(np.ptp(wall.vertices, axis=0).max())
    mean = abs(float(bent.mean[node]))
    dome = float(bent.gauss[node]) > 0.0 and mean > 1.0 / size
    radius = 1.0 / mean if dome else size
    x, y, z = (float(one) for one in wall.vertices[node])
    return InHand(
        weight=weight,
        least_wall=least,
        at=(x, y, z),
        radius=radius,
        thumb=in_the_hand(resin, least_wall=max(least, 1e-5), radius=radius),
    )
