"""The liquid's surface where turning throws it harder than gravity pulls: a level set, not a film.

At rest in the turning mold the liquid lies where g.x + |w x x|^2 / 2 is greatest, up to one level of that
potential (Lamb, Hydrodynamics, article 27; Batchelor, An Introduction to Fluid Dynamics, section 4.1). With
two axes and many turns the potential is the mean over time: what varies faster than the liquid can follow
does not move it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.spatial import cKDTree

from evenwall.errors import InputError
from evenwall.film.columns import columns
from evenwall.film.operators import inward_normals
from evenwall.film.state import Floats
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import GRAVITY

HAND_OVER: Final = 1.0  # centrifugal ratio from which the spun surface is stated instead of the film []
LINES: Final = 200  # grid lines over the longer side of the piece
SHARING: Final = (
    3  # the liquid is shared out to the nodes by points this many times as far apart as the lines
)


@dataclass(frozen=True, kw_only=True)
class Potential:
    """U(x) = pull . y + y . spread y / 2 with y = x - crossing; liquid lies where U is greatest."""

    pull: Floats  # mean gravity in mold axes (3,) [m/s2]
    spread: Floats  # mean of |w|^2 I - w w^T (3, 3) [1/s2]
    crossing: Floats  # (3,) [m]


@dataclass(frozen=True, kw_only=True)
class Spun:
    """Liquid at rest in a fast turning mold; n nodes of the wall."""

    level: float  # of the potential on its surface [m2/s2]
    thickness: Floats  # along the wall's normal to the liquid's surface, at most the reach (n,) [m]
    volume: Floats  # liquid volume per wall area, of the places nearest to each node (n,) [m]
    wetted: float  # share of the wall under the liquid []
    ratio: float  # greatest centrifugal acceleration over gravity on the wall []
    text: str  # one sentence for the user


def potential(gravity: Floats, rates: Floats, *, crossing: Floats) -> Potential:
    """The mean potential of k instants of `gravity` (k, 3) [m/s2] and turning `rates` (k, 3) [rad/s].

    `crossing` (3,) [m]; all in mold axes; instants count alike, and a single one may be given as (3,).
    """
    w = np.atleast_2d(rates)
    square = np.einsum("ki,ki->k", w, w)
    spread = np.mean(square[:, None, None] * np.eye(3) - w[:, :, None] * w[:, None, :], axis=0)
    return Potential(
        pull=np.atleast_2d(gravity).mean(axis=0), spread=spread, crossing=np.asarray(crossing, dtype=float)
    )


def value(field: Potential, points: Floats) -> Floats:
    """U at `points` (..., 3) [m], in [m2/s2]."""
    y = points - field.crossing
    return np.asarray(y @ field.pull + 0.5 * np.einsum("...i,ij,...j->...", y, field.spread, y))


def spun_surface(
    surface: Surface, volume: float, field: Potential, *, areas: Floats, reach: Floats, lines: int = LINES
) -> Spun:
    """Where `volume` [m3] of liquid comes to rest in the closed `surface` of n nodes under `field`.

    The hollow is cut into lines along z, on each of which the liquid's ends are exact; `lines` is their
    number over the longer side in x or y. `areas` (n,) [m2] are the node areas, `reach` (n,) [m] the radius
    of the largest ball inside that touches each node. Raises InputError where the liquid does not fit.
    """
    hollow = enclosed(surface)
    if not 0.0 < volume < hollow:
        raise InputError(
            f"the liquid is {volume / hollow:.2f} times the hollow and must be above 0 and below 1: pour less"
        )
    segments, cell = _segments(surface, lines)
    whole = float((segments[:, 3] - segments[:, 2]).sum()) * cell
    wanted = volume / hollow * whole
    lowest, highest = _bounds(field, surface)

    def missing(level: float) -> float:
        return float(_lengths(field, segments, level).sum()) * cell - wanted

    level = float(brentq(missing, lowest, highest, xtol=1e-10 * (highest - lowest)))
    normals = inward_normals(surface)
    wet = value(field, surface.vertices) > level
    ratio = centrifugal_ratio(field, surface.vertices)
    return Spun(
        level=level,
        thickness=np.where(wet, _along(field, surface.vertices, normals, level, reach), 0.0),
        volume=_shared(field, surface, lines // SHARING, level, volume) / areas,
        wetted=float(areas[wet].sum() / areas.sum()),
        ratio=ratio,
        text=_sentence(ratio),
    )


def centrifugal_ratio(field: Potential, points: Floats) -> float:
    """Greatest w^2 r over gravity [] at `points` (n, 3) [m]."""
    return float(np.linalg.norm((points - field.crossing) @ field.spread, axis=1).max() / GRAVITY)


def _sentence(ratio: float) -> str:
    if ratio < HAND_OVER:
        return (
            f"The turning throws the liquid outward with {ratio:.2f} times its weight:"
            " the film's own forecast holds and this surface is only where a pool would end."
        )
    return (
        f"The turning throws the liquid outward with {ratio:.1f} times its weight, so it lies against the"
        " walls farthest from the axis and leaves the others bare: turn more slowly."
    )


def _segments(surface: Surface, lines: int) -> tuple[Floats, float]:
    """Pieces of grid lines in the solid: x, y, lower z, upper z (k, 4) [m]; a line's cross section [m2]."""
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    step = float((high - low)[:2].max()) / lines
    x, y = (np.arange(low[k] + 0.4931 * step, high[k], step) for k in range(2))
    cut = columns(surface, x, y)
    line = np.repeat(np.arange(len(x) * len(y)), np.diff(cut.start) // 2)
    ends = cut.height.reshape(-1, 2)
    return np.column_stack([x[line // len(y)], y[line % len(y)], ends]), step * step


def _bounds(field: Potential, surface: Surface) -> tuple[float, float]:
    """Values of the potential below and above any in the solid."""
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    far = float(np.abs(np.stack([low, high]) - field.crossing).max()) * np.sqrt(3.0)
    most = float(np.linalg.norm(field.pull)) * far + 0.5 * float(np.linalg.norm(field.spread)) * far**2
    return -most - 1e-9, most + 1e-9


def _quadratic(field: Potential, segments: Floats) -> tuple[float, Floats, Floats]:
    """U = a z^2 / 2 + b z + c along each segment, z from the crossing."""
    x, y = segments[:, 0] - field.crossing[0], segments[:, 1] - field.crossing[1]
    s, g = field.spread, field.pull
    linear = g[2] + s[0, 2] * x + s[1, 2] * y
    constant = g[0] * x + g[1] * y + 0.5 * (s[0, 0] * x**2 + 2.0 * s[0, 1] * x * y + s[1, 1] * y**2)
    return float(s[2, 2]), np.asarray(linear), np.asarray(constant)


def _dry_span(field: Potential, segments: Floats, level: float) -> tuple[Floats, Floats]:
    """Lower and upper z of the part of each segment where U is below the level (may be empty: equal ends)."""
    a, b, c = _quadratic(field, segments)
    below, above = segments[:, 2], segments[:, 3]
    origin = field.crossing[2]
    if a > 1e-9:  # U is a valley along z: dry between its roots
        root = np.sqrt(np.maximum(b**2 - 2.0 * a * (c - level), 0.0))
        first, last = (-b - root) / a + origin, (-b + root) / a + origin
        none = b**2 - 2.0 * a * (c - level) <= 0.0
        first = np.where(none, below, first)
        last = np.where(none, below, last)
    else:
        steep = np.where(np.abs(b) < 1e-12, 1e-12, b)
        edge = (level - c) / steep + origin
        first = np.where(steep > 0.0, -np.inf, edge)
        last = np.where(steep > 0.0, edge, np.inf)
    return np.clip(first, below, above), np.clip(last, below, above)


def _lengths(field: Potential, segments: Floats, level: float) -> Floats:
    """Length of liquid on each segment (k,) [m]."""
    first, last = _dry_span(field, segments, level)
    return np.asarray(segments[:, 3] - segments[:, 2] - (last - first))


def _along(field: Potential, x: Floats, normals: Floats, level: float, reach: Floats) -> Floats:
    """Distance from each node along its normal to where U falls to the level, at most its reach (n,) [m]."""
    y = x - field.crossing
    a = 0.5 * np.einsum("ni,ij,nj->n", normals, field.spread, normals)
    b = normals @ field.pull + np.einsum("ni,ij,nj->n", normals, field.spread, y)
    c = value(field, x) - level
    inner = b**2 - 4.0 * a * c
    root = np.sqrt(np.maximum(inner, 0.0))
    # the smaller positive root of a h^2 + b h + c = 0 for c > 0, in a form that holds for a = 0
    falls = (inner >= 0.0) & (b < 0.0)
    distance = np.where(falls, 2.0 * c / np.where(falls, -b + root, 1.0), np.inf)
    return np.asarray(np.minimum(distance, reach))


def _shared(field: Potential, surface: Surface, lines: int, level: float, volume: float) -> Floats:
    """Liquid volume nearest to each node (n,) [m3]: points on the lines' wet parts, each to its node."""
    segments, cell = _segments(surface, lines)
    first, last = _dry_span(field, segments, level)
    step = np.sqrt(cell)
    starts = np.concatenate([segments[:, 2], last])
    ends = np.concatenate([first, segments[:, 3]])
    line = np.tile(np.arange(len(segments)), 2)
    count = np.ceil((ends - starts) / step).astype(np.int64)
    owner = np.repeat(np.arange(len(starts)), count)
    part = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    length = (ends - starts)[owner] / count[owner]
    z = starts[owner] + (part + 0.5) * length
    points = np.column_stack([segments[line[owner], 0], segments[line[owner], 1], z])
    _, nearest = cKDTree(surface.vertices).query(points, workers=-1)
    held = np.bincount(nearest, length * cell, minlength=len(surface.vertices))
    return np.asarray(held * (volume / held.sum()))
