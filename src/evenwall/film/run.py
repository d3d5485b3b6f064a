"""A forecast of the wall: the piece's wall, a resin, a motion and some shots -> coat after coat, with its band."""

from __future__ import annotations

import math
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Event
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from evenwall.errors import StoppedError
from evenwall.film.cap import said_of_cap
from evenwall.film.chain import Chain, run_chain
from evenwall.film.coat import Progress, Stop, never, no_progress
from evenwall.film.findings import averaging, figures, thin_places
from evenwall.film.operators import inward_normals
from evenwall.film.places import Sides, place_words
from evenwall.film.pouring import ROOM, Setting, setting_of
from evenwall.film.refusals import refuse
from evenwall.film.results import NO_UNCERTAINTY, SAID_AS_COMPUTED, SAID_CARRIED, compared, doubt_of, settled
from evenwall.film.ridges import said_of_ridges, unfollowed
from evenwall.film.sequence import Scout
from evenwall.film.state import Brushed, Closing, FilmForecast, Finding, Rubber, Shot
from evenwall.film.steps import USUAL, Control
from evenwall.film.thrown import CENTRIFUGAL_LIMIT, centrifugal_ratio, thrown_forecast
from evenwall.geometry.remesh import evened, in_order
from evenwall.geometry.surface import Surface
from evenwall.resin.data import Resin
from evenwall.turning.kinematics import Motion

COARSER: Final = 4  # the second mesh has so many times fewer nodes
COARSEST: Final = 1000  # but not fewer than this
COARSE: Final = 2500  # and not more than this
SIDE_BY_SIDE: Final = 4000  # nodes below which both meshes run at once, each in full

STOPPED_EARLY: Final = (
    "Stopped while a coarser mesh ran ahead: this is the wall on that mesh, without a band."
)

ASSUMPTIONS: Final = (
    "The resin wets the mold perfectly and dry wall gives it no resistance.",
    "The film flows as a thin layer: inertia and Coriolis forces of the liquid are left out.",
    "Liquid in a deep pool moves at most as fast as a pool of its own depth would under a bounded mobility.",
    "Conversion and temperature are even across the film's thickness; along a deep pool they mix as it is sheared.",
    "Heat leaves through the rubber only; the air in the cavity holds next to none.",
    "The mix keeps its heat in the cup until it is poured.",
    "The resin neither shrinks nor foams on the wall.",
)


def forecast(
    wall: Surface,
    resin: Resin,
    motion: Motion,
    shots: tuple[Shot, ...],
    *,
    rubber: Rubber = Rubber(),
    mold_temperature: float = ROOM,
    air_temperature: float = ROOM,
    crossing: ArrayLike = (0.0, 0.0, 0.0),
    brushed: Brushed | None = None,
    closing: Closing = Closing(),
    rubber_limit: float = math.inf,
    least: float | None = None,
    sides: Sides = MappingProxyType({}),
    nodes: int | None = None,
    second_mesh: bool = True,
    control: Control = USUAL,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> FilmForecast:
    """The wall that `shots` leave on the closed `wall` while the mold goes through `motion`.

    The motion's clock starts at each shot's pour. `crossing` (3,) [m] is where the axes cross, in mold axes;
    temperatures in [K]. A `brushed` layer gels in its pose before the first shot and is wall for it; `closing`
    says what shuts the air in, and what of the wall comes off with it, so that no figure counts it;
    `rubber_limit` [K] is what the mold stands; places whose wall is under `least` [m] are found; `sides` are
    names for directions in mold axes, for the words that say where something is.
    Turning that throws the liquid outward with more than CENTRIFUGAL_LIMIT times its weight leaves no film:
    the equilibrium surface is given instead (history "spun"). With `nodes` the wall is remeshed to about so
    many; without, it is taken as it is. A second, coarser mesh gives each figure's uncertainty
    (`second_mesh=False` leaves it out, figures then have no band). `control` bounds the steps in time, see
    `evenwall.film.steps.shorter`. progress(share [], text) is called about every 0.2 s, stop() is asked as
    often; a stop keeps what was done.

    Raises MeshError for an open wall, InputError for a shot that does not fit, ResinError for a resin that
    never gels, SolverError where no step succeeds, StoppedError where a stop comes before the first shot.
    """
    setting = setting_of(
        resin,
        motion,
        shots,
        rubber=rubber,
        mold_temperature=mold_temperature,
        air_temperature=air_temperature,
        crossing=crossing,
        brushed=brushed,
        closing=closing,
        rubber_limit=rubber_limit,
        control=control,
    )
    return forecast_of(
        wall,
        setting,
        least=least,
        sides=sides,
        nodes=nodes,
        second_mesh=second_mesh,
        progress=progress,
        stop=stop,
    )


def forecast_of(
    wall: Surface,
    setting: Setting,
    *,
    least: float | None = None,
    sides: Sides = MappingProxyType({}),
    nodes: int | None = None,
    second_mesh: bool = True,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> FilmForecast:
    """The same for a casting whose `setting` stands; see `forecast`."""
    done = _computed(wall, setting, least, nodes, second_mesh, progress or no_progress, stop or never)
    return _placed(done, sides)


def _computed(
    wall: Surface,
    setting: Setting,
    least: float | None,
    nodes: int | None,
    second_mesh: bool,
    tell: Progress,
    asked: Stop,
) -> FilmForecast:
    began = time.perf_counter()
    gel = refuse(wall, setting)
    ratio = centrifugal_ratio(wall.vertices, setting.motion, setting.crossing, until=gel)
    fine = wall if nodes is None else _evened(wall, nodes, "evening the mesh out", tell, asked)
    count = len(fine.vertices)
    few = int(np.clip(count // COARSER, COARSEST, COARSE))
    second = second_mesh and few < 0.7 * count
    coarse = in_order(_evened(fine, few, "making the second mesh", tell, asked)) if second else None
    fine = fine if nodes is None else in_order(fine)
    if ratio > CENTRIFUGAL_LIMIT:
        return thrown_forecast(fine, coarse, setting, gel=gel, ratio=ratio, began=began)
    if coarse is not None and count < SIDE_BY_SIDE:
        both = _side_by_side(fine, coarse, setting, tell, asked)
        return _gathered(*both, setting, began=began, least=least)
    other: Chain | None = None
    share = 0.0
    scout = Scout()
    if coarse is not None:
        share = _cost_share(few, count)
        other = run_chain(
            coarse,
            setting,
            runner=scout.look,
            progress=lambda done, text: tell(share * done, f"coarse mesh, {text}"),
            stop=asked,
        )
        if other.stopped:
            return _gathered(other, None, setting, began=began, reason=STOPPED_EARLY, least=least)
    chain = run_chain(
        fine,
        setting,
        runner=scout.follow,
        progress=lambda done, text: tell(share + (1.0 - share) * done, text),
        stop=asked,
    )
    return _gathered(chain, other, setting, began=began, reason=" ".join(scout.reasons), least=least)


def _evened(wall: Surface, nodes: int, text: str, tell: Progress, asked: Stop) -> Surface:
    return evened(wall, nodes=nodes, progress=lambda _: tell(0.0, text), stop=asked)


def _side_by_side(
    fine: Surface, coarse: Surface, setting: Setting, tell: Progress, asked: Stop
) -> tuple[Chain, Chain | None]:
    """Both meshes at once, each on a core of its own: a wall so small keeps but one thread busy."""
    failed = Event()
    with ThreadPoolExecutor(1) as pool:
        other = pool.submit(run_chain, coarse, setting, stop=lambda: failed.is_set() or asked())
        try:
            chain = run_chain(fine, setting, progress=tell, stop=asked)
        except BaseException:
            failed.set()
            raise
        try:
            return chain, other.result()
        except StoppedError:
            return chain, None


def _cost_share(few: int, many: int) -> float:
    return float(few**1.5 / (few**1.5 + many**1.5))


def _placed(done: FilmForecast, sides: Sides) -> FilmForecast:
    """The forecast with every finding's place in words."""

    def said(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
        return tuple(
            replace(one, where=place_words(np.asarray(one.at), done.wall, sides)) for one in findings
        )

    return replace(
        done,
        coats=tuple(replace(coat, findings=said(coat.findings)) for coat in done.coats),
        brush=done.brush and replace(done.brush, findings=said(done.brush.findings)),
        findings=said(done.findings),
    )


def _gathered(
    chain: Chain,
    other: Chain | None,
    setting: Setting,
    *,
    began: float,
    reason: str = "",
    least: float | None,
) -> FilmForecast:
    """The forecast from its chain and the same on another mesh."""
    build, coats = chain.build, chain.coats
    patches = averaging(build.wall.vertices, inward_normals(build.wall), chain.kept_area)
    whole = figures(build.total, chain.kept_area, patches)
    thin = thin_places(build.wall, build.total, chain.kept_area, patches, least=least) if least else ()
    band = NO_UNCERTAINTY
    missed = unfollowed(build.wall, chain.node_area)
    said = SAID_AS_COMPUTED
    if other is not None and len(other.coats) == len(coats):
        finer = len(build.wall.vertices) / len(other.build.wall.vertices)
        doubt = doubt_of(
            coats, other.coats, nodes=finer, fluid=setting.fluid,
            missed=missed, others_missed=unfollowed(other.build.wall, other.node_area),
        )  # fmt: skip
        coats = tuple(compared(a, b, doubt=doubt) for a, b in zip(coats, other.coats, strict=True))
        second = other.build
        patches = averaging(second.wall.vertices, inward_normals(second.wall), other.kept_area)
        coarse = figures(second.total, other.kept_area, patches)
        whole, band = settled(whole, coarse, nodes=finer, doubt=doubt)
        said = SAID_CARRIED if doubt.carried else SAID_AS_COMPUTED
    nested = any(coat.coarse_until > 0.0 for coat in coats)
    return FilmForecast(
        wall=build.wall,
        node_area=chain.node_area,
        kept_area=chain.kept_area,
        coats=coats,
        coat_thickness=np.array(build.coats[-len(coats) :]),
        brush=chain.brush,
        total=build.total,
        figures=whole,
        uncertainty=band,
        findings=thin,
        volume_error=max(coat.volume_error for coat in coats),
        enclosed_error=build.enclosed_error,
        steps=sum(coat.steps for coat in (*coats, *(other.coats if other else ()))),
        elapsed=time.perf_counter() - began,
        nodes=len(build.wall.vertices),
        history="coarse start" if nested else "full",
        history_reason=reason or "Every step was computed on this mesh.",
        stopped=chain.stopped or (other is not None and other.stopped),
        assumptions=(*ASSUMPTIONS, said, *said_of_cap(setting.closing), *said_of_ridges(missed)),
    )
