"""From the arrays of a finished coat to its figures, findings and the words for them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Final

import numpy as np
from scipy import sparse

from evenwall.film.air import Air
from evenwall.film.coat import CoatRun
from evenwall.film.findings import (
    DRY,
    POOL_SHARE,
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
from evenwall.film.fluid import Fluid
from evenwall.film.operators import Wall
from evenwall.film.ridges import TELLING
from evenwall.film.state import CoatResult, Figures, Finding, Floats, Shot, Uncertainty
from evenwall.geometry.surface import Surface, even_edge
from evenwall.turning.kinematics import GRAVITY, Motion

NO_UNCERTAINTY: Final = Uncertainty(mean=0.0, p05=0.0, median=0.0, p95=0.0, cv=0.0, least=0.0)

ORDER: Final = 1.0  # at which figures are taken to converge with the length of the edges []
NO_ORDER: Final = 0.5  # taken where they show none, the least that two meshes may count on []

ENOUGH: Final = 2.0  # times as many nodes carry figures on: less would spread their scatter over 4-fold []
# figures that two meshes carry on to edges as short as the film's own length, and whose thickness that length goes by
CARRIED: Final = {"p05": "p05", "p95": "p95", "cv": "mean"}

SAID_CARRIED: Final = (
    "The thinnest and the thickest twentieth and the variation are carried on from two meshes to what a mesh as fine as"
    " the film's own bends would give; the map, the places on it and the other figures are as the finer mesh computed"
    " them."
)
SAID_AS_COMPUTED: Final = (
    "All figures are as one mesh computed them: finer meshes show the thinnest twentieth thinner and the thickest"
    " thicker."
)


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """What two meshes leave open of a figure."""

    safety: float  # factor on their difference, carried on to edges of no length []
    order: float = ORDER  # least at which figures may converge with the length of the edges []
    chance: dict[str, float]  # scatter of each figure from mesh to mesh, as share of it []
    # figures told carried on, each to edges that its film needs to settle, over those of the finer mesh []
    carried: Mapping[str, float] = field(default_factory=dict)


# chance: four times the largest standard deviation over five meshes of each of an egg, a ring and a peanut, since a
# few sharp ridges scatter more and carrying on spreads it 2.2-fold; twice the ammonite's for meshes that miss much of
# the ridges (benchmarks/film_scatter.py, docs/equations.md)
RESTING: Final = Doubt(
    safety=1.25,
    chance={"mean": 0.001, "p05": 0.01, "median": 0.008, "p95": 0.016, "cv": 0.017, "least": 0.024},
)  # liquid that lies where it gelled: no film that bends and drains
# where a pool gelled figures show no order in the edges
POOLED: Final = replace(RESTING, safety=3.0, order=NO_ORDER)
MISSED_RIDGES: Final = Doubt(
    safety=3.0,
    order=NO_ORDER,
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


def settled(
    fine: Figures, coarse: Figures, *, nodes: float, doubt: Doubt, gel_film: float = 0.0
) -> tuple[Figures, Uncertainty]:
    """Figures and their half-widths from two meshes, the finer with `nodes` [] times as many; `gel_film` [s] apart.

    The doubt's `carried` figures are told as f2 + (f2 - f1)(1 - own)/(r^ORDER - 1), r = nodes^(1/2) the ratio of edge
    lengths (Richardson, to the film's own edges: shorter ones give the same). The half-width is the grid convergence
    index of Roache 1994, J. Fluids Eng. 116, 405-413: safety |f2 - f1|/(r^order - 1), safety 1.25 and ORDER where that
    is known; where nothing but two meshes is, 3 and the least order that Oberkampf & Roy, Verification and Validation
    in Scientific Computing (2010), section 8.6.3, let count, 1/2 (from memory). Two meshes may agree by chance: the
    figure's scatter is added in quadrature. No thickness is below 0, so none is told with a band wider than itself;
    p05 and p95 stay on their sides of the median and no patch lies above p05. Example: with four times the nodes and a
    film that asks for edges of no length a carried figure moves on by the whole difference.
    """
    names = [item.name for item in fields(Figures)]
    limit = {name: getattr(fine, name) for name in names}
    change = {name: limit[name] - getattr(coarse, name) for name in names}
    for name, own in doubt.carried.items():
        limit[name] = max(0.0, limit[name] + max(0.0, 1.0 - own) * _beyond(nodes, ORDER) * change[name])
    limit["p05"] = min(limit["p05"], fine.median)
    limit["p95"] = max(limit["p95"], fine.median)
    limit["least"] = min(limit["least"], limit["p05"])
    wide = doubt.safety * _beyond(nodes, doubt.order)
    half = {
        name: min(limit[name], math.hypot(wide * change[name], doubt.chance[name] * limit[name]))
        for name in names
    }
    return Figures(**limit), Uncertainty(**half, gel_film=wide * gel_film)


def _beyond(nodes: float, order: float) -> float:
    """Change [] from the finer mesh to edges of no length, over that from one with `nodes` [] times fewer."""
    return float(1.0 / (nodes ** (0.5 * order) - 1.0))


def compared(coat: CoatResult, other: CoatResult, *, doubt: Doubt) -> CoatResult:
    """The coat with its figures and their uncertainty `settled` by the same coat on another mesh."""
    differs = abs(coat.gel_film - other.gel_film) if np.isfinite(coat.gel_film + other.gel_film) else 0.0
    nodes = len(coat.thickness) / len(other.thickness)
    told, band = settled(coat.figures, other.figures, nodes=nodes, doubt=doubt, gel_film=differs)
    return replace(coat, figures=told, uncertainty=band)


def film_length(fluid: Fluid, thickness: float) -> float:
    """Length [m] over which a film of this `thickness` [m] bends at a front or toward a ridge: (h l_c^2)^(1/3).

    There surface tension and weight are as strong, l_c^2 = sigma/(rho g) (Troian, Herbolzheimer, Safran & Joanny 1989,
    Europhys. Lett. 10, 25, from memory). Example: 1.5 mm for 1 mm of polyurethane of 0.035 N/m and 1050 kg/m3.
    """
    return float(np.cbrt(thickness * fluid.surface_tension / (fluid.density * GRAVITY)))


def doubt_of(
    coats: Sequence[CoatResult],
    others: Sequence[CoatResult],
    *,
    nodes: float,
    missed: float,
    others_missed: float,
    fluid: Fluid,
) -> Doubt:
    """What `coats` of the `fluid` and the `others`, on a mesh with `nodes` [] times fewer, leave open.

    A figure is carried on where its order is known and the meshes differ enough: not where a share `missed` [] of the
    wall lies on ridges that both miss, nor where a pool gels. Where `others_missed` [] of it lies on ridges that only
    the others miss, those scatter as such meshes do, and so what the two differ by. Thin places bend over shorter
    lengths than thick ones, so each goes by its own thickness, the variation by the mean.
    """
    if missed >= TELLING:
        return MISSED_RIDGES
    pooled = any(coat.pool_fraction > POOL_SHARE for coat in (*coats, *others))
    doubt = POOLED if pooled else RESTING
    if others_missed >= TELLING:
        doubt = replace(doubt, chance=MISSED_RIDGES.chance)
    if pooled or nodes < ENOUGH:
        return doubt
    edge = float(even_edge(coats[0].node_area.mean()))
    deep = {name: np.mean([getattr(coat.figures, by) for coat in coats]) for name, by in CARRIED.items()}
    return replace(doubt, carried={name: film_length(fluid, h) / edge for name, h in deep.items()})


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
