"""How many shots, and how big: from the wanted wall, tried by a forecast, changed where that says so."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenwall.errors import PlanError, StoppedError
from evenwall.film.state import FilmForecast
from evenwall.geometry.solid import measures
from evenwall.geometry.surface import Surface, area_vectors, corners, edges

COAT: Final = 1.0e-3  # a usual coat [m] (common practice, no source)
THICKEST_COAT: Final = 1.3e-3  # rather one more shot than a coat over this [m] (common practice, no source)
THINNEST_COAT: Final = 0.3e-3  # a coat under this is not a coat any more [m] (common practice, no source)
MOST_COATS: Final = 12
MOST_EXTRA: Final = 1.5  # the usual wall is raised at most by this for the sake of the thinnest place
FULL: Final = 0.9  # a wall that takes more of the cavity than this is no hollow casting
TRIALS: Final = 3  # forecasts that the search may spend


@dataclass(frozen=True, kw_only=True)
class WallWish:
    """The wall that is wanted."""

    usual: float  # [m]
    least: float  # anywhere [m]
    coats: int | None = None  # number of coats, None: the plan chooses
    volumes: tuple[float, ...] = ()  # own shots instead of planned ones [m3]


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """Shots that were tried by a forecast."""

    volumes: tuple[float, ...]  # liquid on the wall, a shot each [m3]
    coats: tuple[float, ...]  # mean thickness of each coat [m]
    forecast: FilmForecast  # what a quick forecast says of them
    reasons: tuple[str, ...]  # one sentence for each shot or number that was changed or refused


@dataclass(frozen=True, kw_only=True)
class CavityMeasures:
    """What a parallel wall's volume follows from."""

    area: float  # [m2]
    volume: float  # [m3]
    mean_curvature: float  # integral of the mean curvature over the wall, positive where hollow [m]
    gauss_curvature: float  # integral of the Gauss curvature: 2 pi times the Euler number []


def cavity_measures(surface: Surface) -> CavityMeasures:
    """Area, volume and total curvatures of a closed surface; exact for its flat faces.

    The total mean curvature of a polyhedron is half the sum over its edges of length times the angle between
    the two faces' normals, ridges of the solid positive (Steiner's formula; Santalo, Integral Geometry and
    Geometric Probability, 1976, section III.13.6, from memory). Needs a closed, outward surface.
    """
    solid = measures(surface)
    lines, _ = edges(surface)
    return CavityMeasures(
        area=solid.area,
        volume=solid.volume,
        mean_curvature=_total_mean_curvature(surface),
        gauss_curvature=2.0 * math.pi * (len(surface.vertices) - len(lines) + len(surface.faces)),
    )


def _total_mean_curvature(surface: Surface) -> float:
    faces = surface.faces
    half = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    owner = np.tile(np.arange(len(faces)), 3)
    key = half.min(axis=1) * len(surface.vertices) + half.max(axis=1)
    order = np.argsort(key, kind="stable")
    pairs = order.reshape(-1, 2)  # closed: each edge stands twice
    vectors = area_vectors(surface)
    normal = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-300)[:, None]
    centre = corners(surface).mean(axis=1)
    one, other = owner[pairs[:, 0]], owner[pairs[:, 1]]
    sine = np.linalg.norm(np.cross(normal[one], normal[other]), axis=1)
    cosine = np.einsum("ij,ij->i", normal[one], normal[other])
    ridge = np.sign(np.einsum("ij,ij->i", normal[one] - normal[other], centre[one] - centre[other]))
    ends = surface.vertices[half[pairs[:, 0]]]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    return float(0.5 * np.sum(length * np.arctan2(sine, cosine) * ridge))


def wall_volume(cavity: CavityMeasures, thickness: float) -> float:
    """Volume [m3] of a wall of even `thickness` [m] on the inside of the cavity.

    V = A t - M t^2 + K t^3 / 3 (Steiner's formula; exact where the parallel wall doesn't fold), held under
    the cavity's volume.
    """
    volume = (
        cavity.area * thickness
        - cavity.mean_curvature * thickness**2
        + cavity.gauss_curvature * thickness**3 / 3.0
    )
    return min(volume, cavity.volume)


def coat_thicknesses(usual: float, coats: int | None) -> tuple[float, ...]:
    """Equal coats [m] that make the usual wall [m]; as many as keep each near a usual coat."""
    number = coats if coats is not None else max(1, math.ceil(usual / THICKEST_COAT), round(usual / COAT))
    if number > MOST_COATS:
        raise PlanError(
            f"a wall of {1e3 * usual:.1f} mm would take {number} coats, more than {MOST_COATS}: "
            "want a thinner wall"
        )
    return (usual / number,) * number


def shot_volumes(cavity: CavityMeasures, coats: Sequence[float]) -> tuple[float, ...]:
    """Volume [m3] of each coat of the given thickness [m], each on the one before."""
    depth = np.concatenate([[0.0], np.cumsum(coats)])
    volumes = [wall_volume(cavity, float(d)) for d in depth]
    return tuple(float(b - a) for a, b in itertools.pairwise(volumes))


def untried(cavity: CavityMeasures, wish: WallWish) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Coats [m] and shots [m3] of the wish before any forecast has judged them."""
    check_wish(cavity, wish)
    if wish.volumes:
        return tuple(v / cavity.area for v in wish.volumes), wish.volumes
    coats = coat_thicknesses(wish.usual, wish.coats)
    return coats, shot_volumes(cavity, coats)


def check_wish(cavity: CavityMeasures, wish: WallWish) -> None:
    """PlanError where the wish can't be a hollow casting of this cavity."""
    inscribed = 3.0 * cavity.volume / cavity.area  # a ball of this radius has the same volume over area
    if wish.usual >= inscribed or wall_volume(cavity, wish.usual) > FULL * cavity.volume:
        raise PlanError(
            f"a wall of {1e3 * wish.usual:.1f} mm fills nearly the whole cavity of "
            f"{1e6 * cavity.volume:.0f} mL: "
            f"want a wall under {1e3 * 0.5 * inscribed:.1f} mm, or cast it solid"
        )
    if sum(wish.volumes) > FULL * cavity.volume:
        raise PlanError(
            f"the shots hold {1e6 * sum(wish.volumes):.0f} mL and the cavity {1e6 * cavity.volume:.0f} mL: "
            "make the shots smaller"
        )
    if wish.least > wish.usual:
        raise PlanError(
            f"the least wall, {1e3 * wish.least:.1f} mm, is over the usual one, {1e3 * wish.usual:.1f} mm: "
            "lower the least or raise the usual"
        )


def propose(
    cavity: CavityMeasures, wish: WallWish, trial: Callable[[tuple[float, ...]], FilmForecast]
) -> Proposal:
    """Shots for the wished wall, each tried by the forecast `trial(volumes)`.

    A shot that would set in a lump is split into more coats; a wall that comes out under the least is raised,
    by at most a half. The best of at most three trials is kept, with the reasons for each change.
    """
    check_wish(cavity, wish)
    if wish.volumes:
        forecast = trial(wish.volumes)
        thick = tuple(v / cavity.area for v in wish.volumes)
        return Proposal(volumes=wish.volumes, coats=thick, forecast=forecast, reasons=_doubts(forecast, wish))
    reasons: list[str] = []
    usual, number = wish.usual, wish.coats
    tried: list[Proposal] = []
    for _ in range(TRIALS):
        coats = coat_thicknesses(usual, number)
        volumes = shot_volumes(cavity, coats)
        try:
            forecast = trial(volumes)
        except StoppedError:
            if not tried:
                raise
            tried[-1] = replace(tried[-1], forecast=replace(tried[-1].forecast, stopped=True))
            break
        tried.append(Proposal(volumes=volumes, coats=coats, forecast=forecast, reasons=tuple(reasons)))
        change = _change(tried[-1], wish, usual)
        if change is None or forecast.stopped:
            break
        usual, number, reason = change
        reasons.append(reason)
    best = min(tried, key=lambda p: _rank(p, wish))
    return replace(best, reasons=(*best.reasons, *_doubts(best.forecast, wish)))


def _change(proposal: Proposal, wish: WallWish, usual: float) -> tuple[float, int | None, str] | None:
    forecast, coats = proposal.forecast, proposal.coats
    number = len(coats)
    lumps = [k + 1 for k, coat in enumerate(forecast.coats) if coat.lump]
    if lumps and wish.coats is None and number < MOST_COATS and usual / (number + 1) >= THINNEST_COAT:
        return (
            usual,
            number + 1,
            f"shot {lumps[0]} of {number}, {1e6 * proposal.volumes[lumps[0] - 1]:.0f} mL, would leave a pool "
            f"that sets in a lump: the wall is made of {number + 1} thinner coats",
        )
    least = forecast.figures.least
    if not lumps and 0 < least < wish.least and usual < MOST_EXTRA * wish.usual:
        raised = min(usual * wish.least / least, MOST_EXTRA * wish.usual)
        return (
            raised,
            wish.coats,
            f"with a usual wall of {1e3 * usual:.1f} mm the thinnest place would have {1e3 * least:.2f} mm, "
            f"less than the wanted {1e3 * wish.least:.1f} mm: "
            f"the usual wall is raised to {1e3 * raised:.1f} mm",
        )
    return None


def _rank(proposal: Proposal, wish: WallWish) -> tuple[int, float, float]:
    """Least is best: lumps first, then what the thinnest place lacks, then resin."""
    lumps = sum(coat.lump for coat in proposal.forecast.coats)
    lack = max(0.0, wish.least - proposal.forecast.figures.least)
    return lumps, round(lack / wish.least, 2), sum(proposal.volumes)


def _doubts(forecast: FilmForecast, wish: WallWish) -> tuple[str, ...]:
    """What stays wrong with the shots as they are, one sentence each."""
    doubts = [
        f"shot {k + 1} of {len(forecast.coats)} still leaves a pool that sets in a lump: make it smaller"
        for k, coat in enumerate(forecast.coats)
        if coat.lump
    ]
    least = forecast.figures.least
    if least < wish.least:
        doubts.append(
            f"the thinnest place keeps {1e3 * least:.2f} mm where {1e3 * wish.least:.1f} mm are wanted: "
            "brush resin on that place before the first shot"
        )
    return tuple(doubts)
