"""From the arrays of a finished coat to its figures, findings and the words for them."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
from scipy import sparse

from evenwall.film.air import Air
from evenwall.film.coat import CoatRun
from evenwall.film.findings import (
    DRY,
    averaging,
    dripped,
    dry_fraction,
    dry_places,
    figures,
    hot_places,
    pool_fraction,
    pools,
    sagged,
    unevenness,
)
from evenwall.film.operators import Wall
from evenwall.film.state import CoatResult, Figures, Finding, Floats, Shot, Uncertainty
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import Motion

NO_UNCERTAINTY: Final = Uncertainty(mean=0.0, p05=0.0, median=0.0, p95=0.0, cv=0.0, least=0.0)

ORDER: Final = 1.0  # at which figures are taken to converge with the length of the edges []


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """What two meshes leave open of a figure."""

    safety: float  # factor on their difference, carried on to edges of no length []
    chance: dict[str, float]  # scatter of each figure from mesh to mesh, as share of it []


# chance: four times the largest standard deviation over five meshes of each of an egg, a ring and a peanut, since a
# few sharp ridges scatter more; twice the ammonite's for meshes that miss much of the ridges
# (benchmarks/film_scatter.py, docs/equations.md)
USUAL_DOUBT: Final = Doubt(
    safety=1.25,
    chance={"mean": 0.001, "p05": 0.01, "median": 0.008, "p95": 0.016, "cv": 0.017, "least": 0.024},
)
MISSED_RIDGES: Final = Doubt(
    safety=3.0,
    chance={"mean": 0.003, "p05": 0.03, "median": 0.022, "p95": 0.022, "cv": 0.1, "least": 0.32},
)


def coat_result(
    surface: Surface,
    wall: Wall,
    run: CoatRun,
    *,
    shot: Shot,
    poured: float,
    kept: Floats,
    heat_limit: tuple[float, str],
    stopped_turning: float | None,
    coarse_until: float,
    air: Air | None = None,
    everywhere: bool = True,
) -> CoatResult:
    """The coat of `run` on `surface` in figures and findings; times of the run count from this shot's mixing.

    `poured` [m3] is what was meant to lie on the wall, `kept` (n,) [m2] the node areas that figures, dry, uneven
    and moved places go by (liquid and heat count everywhere), `heat_limit` the least one [K] and whose it is;
    `stopped_turning` [s] is when the mold came to rest, None where it turned to the end; `air` is the mold's.
    A layer that is not meant to lie `everywhere` is not called dry or uneven.
    """
    film, area, thickness = run.film, wall.area, run.thickness
    volume = film.volume + film.solid
    patches = averaging(wall.x, wall.normal, kept)
    solid = film.solid > 0.5 * volume
    conversion = np.where(
        volume > 0.0, (film.cured + film.solid * film.solid_cured) / np.maximum(volume, 1e-300), 0.0
    )
    wall_figures = figures(thickness, kept, patches)
    found = pools(surface, thickness, volume, area, shot=poured, gelled=solid)
    gelled_pool = found if run.gelled else ()
    findings = [
        *(dry_places(surface, thickness, kept) if everywhere else ()),
        *found,
        *hot_places(surface, run.record.peak, thickness, area, limit=heat_limit[0], of=heat_limit[1]),
        *(unevenness(surface, thickness, kept, wall_figures) if everywhere else ()),
        *dripped(surface, run.record.fallen, area, shot=poured),
        *_sag(surface, run, kept, patches, stopped_turning),
        *_not_gelled(wall, run),
    ]
    covered = thickness > DRY
    return CoatResult(
        shot=shot,
        surface=surface,
        thickness=thickness,
        volume=volume,
        node_area=area,
        conversion=conversion,
        temperature=film.solid_temperature,
        peak_temperature=run.record.peak,
        gel_time=run.record.gel_time,
        wetted=run.record.wetted,
        rubber_temperature=run.column.temperature if run.column is not None else np.zeros((len(area), 0)),
        figures=wall_figures,
        uncertainty=NO_UNCERTAINTY,
        findings=tuple(findings),
        gel_film=half_gelled(run, area),
        turn_until=run.time,
        pool_fraction=pool_fraction(thickness, volume, area, mean=poured / float(area.sum())),
        dry_fraction=dry_fraction(thickness, kept),
        peak=float(run.record.peak[covered].max()) if covered.any() else float(run.record.peak.max()),
        lump=any(one.kind == "lump" for one in gelled_pool),
        air_pressure=air.highest if air is not None else 0.0,
        air_push=air.load if air is not None else 0.0,
        volume_error=abs(float(area @ volume) / poured - 1.0) if poured > 0.0 else 0.0,
        centrifugal_ratio=run.centrifugal_ratio,
        steps=run.steps,
        elapsed=run.elapsed,
        history=run.history,
        coarse_until=coarse_until,
    )


def half_gelled(run: CoatRun, area: Floats) -> float:
    """Time [s] by which half of the covered wall, node areas `area` (n,) [m2], has gelled; inf where it never has."""
    covered = run.thickness > DRY
    gel_time, area = run.record.gel_time[covered], area[covered]
    if not len(area):
        return float("inf")
    order = np.argsort(gel_time)
    reached = np.searchsorted(np.cumsum(area[order]), 0.5 * area.sum())
    return float(gel_time[order][min(int(reached), len(area) - 1)])


def came_to_rest(motion: Motion) -> float | None:
    """Time [s] at which the motion ends in rest for good, None where it goes on turning."""
    if motion.frame_rate[-1] == 0.0 and motion.cradle_rate[-1] == 0.0:
        return float(motion.time[-1])
    return None


def apart(
    fine: Figures, coarse: Figures, *, nodes: float = 4.0, doubt: Doubt = USUAL_DOUBT, gel_film: float = 0.0
) -> Uncertainty:
    """Half-widths of the figures from two meshes, the finer with `nodes` [] times as many, and of `gel_film` [s].

    The grid convergence index of Roache 1994, J. Fluids Eng. 116, 405-413: safety |f2 - f1|/(r^ORDER - 1), r =
    nodes^(1/2) the ratio of edge lengths, safety 3 where nothing but two meshes is known, 1.25 where the order
    is. Two meshes may agree by chance: the figure's scatter is added in quadrature (not for one mesh alone).
    No figure is below 0, so none is told with a band wider than itself.
    Example: with four times the nodes it is `doubt.safety` times the whole difference.
    """
    one_mesh = fine is coarse
    beyond = 0.0 if one_mesh else doubt.safety / (nodes ** (0.5 * ORDER) - 1.0)
    pairs = {item.name: (getattr(fine, item.name), getattr(coarse, item.name)) for item in fields(Figures)}
    return Uncertainty(
        **{
            name: min(one, math.hypot(beyond * (one - other), (not one_mesh) * doubt.chance[name] * one))
            for name, (one, other) in pairs.items()
        },
        gel_film=beyond * gel_film,
    )


def with_uncertainty(coat: CoatResult, other: CoatResult, *, doubt: Doubt = USUAL_DOUBT) -> CoatResult:
    """The coat with its figures' uncertainty from the same coat on another mesh; `doubt` as in `apart`."""
    differs = abs(coat.gel_film - other.gel_film) if np.isfinite(coat.gel_film + other.gel_film) else 0.0
    nodes = len(coat.thickness) / len(other.thickness)
    return replace(
        coat, uncertainty=apart(coat.figures, other.figures, nodes=nodes, doubt=doubt, gel_film=differs)
    )


def _sag(
    surface: Surface, run: CoatRun, area: Floats, patches: sparse.csr_array, at: float | None
) -> tuple[Finding, ...]:
    if at is None or at <= run.history.times[0] or at >= run.time:
        return ()
    k = int(np.argmin(np.abs(run.history.times - at)))
    before = run.history.thickness[k].astype(np.float64)
    return sagged(surface, before, run.thickness, area, patches)


def _not_gelled(wall: Wall, run: CoatRun) -> tuple[Finding, ...]:
    if run.gelled:
        return ()
    liquid = wall.area * run.film.volume
    worst = int(np.argmax(liquid))
    left = float(liquid.sum() / max(float(wall.area @ (run.film.volume + run.film.solid)), 1e-300))
    if run.stopped:
        text = f"The forecast was stopped at {run.time:.0f} s, before the coat had gelled."
        remedy = "Start it again to know the wall at gel."
    else:
        text = f"{left:.0%} of the coat is still liquid at {run.time:.0f} s."
        remedy = "Warm the mold or the resin, and check the resin's pot life."
    return (
        Finding(
            kind="stopped" if run.stopped else "not gelled",
            at=(float(wall.x[worst, 0]), float(wall.x[worst, 1]), float(wall.x[worst, 2])),
            area=float(wall.area[run.film.volume > 0.0].sum()),
            amount=left,
            limit=1e-3,
            text=text,
            help=remedy,
        ),
    )
