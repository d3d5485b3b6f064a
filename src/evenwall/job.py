"""The whole job on one page: a piece, its mold, the resin and the shop today -> shots -> the wall they make."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from evenwall.film.run import forecast as film_forecast
from evenwall.film.state import FilmForecast, Floats, Rubber, Shot
from evenwall.geometry.surface import Surface
from evenwall.plan.brush import Brush, brush_coat
from evenwall.plan.cautions import Caution, cautions_for
from evenwall.plan.costs import Cost, Prices, casting_cost
from evenwall.plan.minutes import CoatMinutes, Hands, Minutes, Warmth, casting_minutes
from evenwall.plan.program import Program, turning_program
from evenwall.plan.shots import Proposal, WallWish, cavity_measures, propose
from evenwall.plan.weighout import WeighOut, weigh_out
from evenwall.resin.data import Resin
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

Progress = Callable[[float, str], None]
Stop = Callable[[], bool]

FINENESS: Final = {"quick": 2_500, "fine": 10_000, "finest": 20_000}  # nodes of a forecast
LEAST_BRUSH: Final = 0.012  # a smaller cup is hard to mix by hand [kg] (common practice, no source)
HANDS_PER_COAT: Final = (
    240.0  # weighing, unclamping and wiping for each coat [s] (common practice, no source)
)
HANDS_PER_CASTING: Final = 1200.0  # release, brush, demold, trim and clean [s] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Piece:
    """The piece to be cast, as the wall of its mold's cavity."""

    surface: Surface  # closed, mold axes [m]
    stand_in: bool = False  # no scan: a shape of the same area, volume and slenderness
    area_band: tuple[float, float]  # what the area may be [m2]
    volume_band: tuple[float, float]  # what the volume may be [m3]
    sides: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)  # user's names, mold axes


@dataclass(frozen=True, kw_only=True)
class Mold:
    """The mold round the cavity."""

    rubber: Rubber = Rubber()
    heat_limit: float = 453.15  # temperature that the rubber stands [K]
    opening: Literal["closed", "base counts", "trimmed", "pour hole"] = "closed"
    opening_area: float = 0.0  # covered by the board or plug [m2]
    sealed: bool = True  # closed airtight, no vent


@dataclass(frozen=True, kw_only=True)
class Shop:
    """The shop today."""

    air: float = 295.15  # temperature of the air [K]
    resin: float = 295.15  # of the jugs [K]
    mold: float = 295.15  # of the mold [K]
    humidity: float = 0.45  # relative humidity of the air []
    scale_step: float = 1e-4  # smallest step of the scale [kg]
    cups: tuple[float, ...] = (1e-4, 2.5e-4, 5e-4, 1e-3)  # brimful volumes of the cups at hand [m3]
    stir: float = 45.0  # time to stir a shot [s]
    pour: float = 20.0  # time to pour it [s]
    close: float = 30.0  # time to close the mold [s]
    hands: int = 1  # people at the machine


@dataclass(frozen=True, kw_only=True)
class Turning:
    """How the machine is turned."""

    pattern: Literal["hand", "constant"] = "hand"
    frame_rate: float = 0.63  # [rad/s]
    cradle_rate: float = 0.52  # [rad/s]
    stop_after: float | None = None  # turning stops so long after mixing [s]; None: at gel


@dataclass(frozen=True, kw_only=True)
class Job:
    """Everything that a plan and a forecast follow from, SI."""

    name: str
    piece: Piece
    resin: Resin
    wish: WallWish
    mold: Mold = Mold()
    shop: Shop = Shop()
    turning: Turning = Turning()
    crossing: Floats  # where the two axes cross, mold axes [m], shape (3,)
    prices: Prices
    pigment: float = 0.0  # share of part B by weight []
    brush: bool = True  # brush the narrow places first
    cleaning_shot: bool = False  # start with a small sacrificial shot


@dataclass(frozen=True, kw_only=True)
class PlannedShot:
    """One shot of the plan."""

    name: str  # e.g. "coat 2 of 3"
    weigh: WeighOut
    coat: float  # mean thickness it makes [m]
    minutes: CoatMinutes
    shot: Shot  # as the film's forecast takes it


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What to do, what it gives, what it costs, and why it is so."""

    shots: tuple[PlannedShot, ...]
    cleaning: WeighOut | None  # the sacrificial first shot, if there is one
    brush: Brush
    brush_weigh: WeighOut | None
    program: Program  # turning of the first coat; the later ones go the same way
    open_after: float  # first opening, from the last coat's mixing [s]
    forecast: FilmForecast  # the quick one that the shots were tried by
    cost: Cost
    cautions: tuple[Caution, ...]
    reasons: tuple[str, ...]  # what was changed or refused, a sentence each
    assumed: tuple[str, ...]  # values that nobody measured, a sentence each


def plan(
    job: Job, *, nodes: int = FINENESS["quick"], progress: Progress | None = None, stop: Stop | None = None
) -> Plan:
    """Shots, times, turning and cost for the job's wanted wall, tried by quick forecasts.

    Raises PlanError, in one sentence with the lever that helps, where no such casting can be made.
    """
    cavity = cavity_measures(job.piece.surface)
    tries = 0

    def trial(volumes: tuple[float, ...]) -> FilmForecast:
        nonlocal tries
        tries += 1
        said = f"try {tries}: "
        coats = tuple(volume / cavity.area for volume in volumes)
        return _wall(
            job, _film_shots(job, _timed(job, coats, volumes), volumes), _motion(job, coats, volumes), nodes,
            progress and (lambda share, text: progress(share, said + text)), stop,
        )  # fmt: skip

    proposal = propose(cavity, job.wish, trial)
    minutes = _timed(job, proposal.coats, proposal.volumes)
    weighed = _weighed(job, proposal.volumes)
    shots = _film_shots(job, minutes, proposal.volumes)
    brush = brush_coat(proposal.forecast.wall)
    return Plan(
        shots=tuple(
            PlannedShot(name=w_name, weigh=weigh, coat=coat, minutes=times, shot=shot)
            for (w_name, weigh), coat, times, shot in zip(
                weighed, proposal.coats, minutes.coats, shots, strict=True
            )
        ),
        cleaning=_cleaning(job, proposal),
        brush=brush,
        brush_weigh=_brush_weigh(job, brush),
        program=_program(job, proposal.coats, proposal.volumes),
        open_after=minutes.open_after,
        forecast=proposal.forecast,
        cost=_cost(job, weighed, cavity.volume),
        cautions=cautions_for(sealed=job.mold.sealed, opening=job.mold.opening, humidity=job.shop.humidity),
        reasons=proposal.reasons,
        assumed=assumptions(job),
    )


def forecast(
    job: Job,
    planned: Plan | None = None,
    *,
    nodes: int = FINENESS["fine"],
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> FilmForecast:
    """The wall that the planned shots, or the job's own ones, make on the job's piece.

    progress(share done, what is being done) is called a few times a second; stop() true ends the run within a
    second, and what was computed is kept. Without a plan the job must name its shots (`wish.volumes`).
    """
    if planned is not None:
        volumes = tuple(s.shot.volume for s in planned.shots)
        coats = tuple(s.coat for s in planned.shots)
    else:
        volumes = job.wish.volumes
        coats = tuple(volume / cavity_measures(job.piece.surface).area for volume in volumes)
    shots = _film_shots(job, _timed(job, coats, volumes), volumes)
    return _wall(job, shots, _motion(job, coats, volumes), nodes, progress, stop)


def assumptions(job: Job) -> tuple[str, ...]:
    """Values that the plan stands on and nobody measured."""
    said = [
        f"{name.replace('_', ' ')}: {value.pedigree} ({value.source})"
        for name, value in job.resin.sheet.values()
        if value.pedigree in ("typical", "assumed")
    ]
    if job.piece.stand_in:
        said.insert(0, "shape: no scan, a stand-in of the same area, volume and slenderness")
    return tuple(said)


def _hands(job: Job) -> Hands:
    return Hands(stir=job.shop.stir, pour=job.shop.pour, close=job.shop.close)


def _warmth(job: Job) -> Warmth:
    return Warmth(air=job.shop.air, resin=job.shop.resin, mold=job.shop.mold)


def _weighed(job: Job, volumes: tuple[float, ...]) -> tuple[tuple[str, WeighOut], ...]:
    names = [f"coat {k + 1} of {len(volumes)}" for k in range(len(volumes))]
    return tuple(
        (name, _weigh(job, volume * job.resin.density, name))
        for name, volume in zip(names, volumes, strict=True)
    )


def _weigh(job: Job, poured: float, name: str) -> WeighOut:
    return weigh_out(
        job.resin,
        poured=poured,
        pigment=job.pigment,
        scale_step=job.shop.scale_step,
        cups=job.shop.cups,
        name=name,
    )


def _timed(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> Minutes:
    weighed = [weigh for _, weigh in _weighed(job, volumes)]
    return casting_minutes(
        job.resin,
        coats,
        [w.mixed for w in weighed],
        rests=[w.stays for w in weighed],
        rubber=job.mold.rubber,
        warmth=_warmth(job),
        hands=_hands(job),
    )


def _film_shots(job: Job, minutes: Minutes, volumes: tuple[float, ...]) -> tuple[Shot, ...]:
    return tuple(
        Shot(
            volume=volume,
            temperature=job.shop.resin,
            mixed_at=times.mixed_at,
            pour_after=_hands(job).start,
        )
        for volume, times in zip(volumes, minutes.coats, strict=True)
    )


def _program(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> Program:
    first = _timed(job, coats[:1], volumes[:1]).coats[0]
    arms = job.piece.surface.vertices - np.asarray(job.crossing)
    return turning_program(
        time=first.film.time,
        viscosity=first.film.viscosity,
        gel=first.gel_film,
        start=_hands(job).start,
        reach=float(np.linalg.norm(arms, axis=1).max()),
        thickness=coats[0],
        density=job.resin.density,
        frame_rate=job.turning.frame_rate,
        cradle_rate=job.turning.cradle_rate,
    )


def _motion(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> Motion:
    """The motion of the machine, its clock at the closing of the mold."""
    turning, start = job.turning, _hands(job).start
    if turning.pattern == "constant":
        motion = patterns.constant(frame_rate=turning.frame_rate, cradle_rate=turning.cradle_rate)
    else:
        moved = _program(job, coats, volumes).motion
        motion = moved._replace(time=moved.time - start)
    if turning.stop_after is None:
        return motion
    return patterns.stopped(motion, at=max(0.0, turning.stop_after - start))


def _wall(
    job: Job,
    shots: tuple[Shot, ...],
    motion: Motion,
    nodes: int,
    progress: Progress | None,
    stop: Stop | None,
) -> FilmForecast:
    return film_forecast(
        job.piece.surface,
        job.resin,
        motion,
        shots,
        rubber=job.mold.rubber,
        mold_temperature=job.shop.mold,
        air_temperature=job.shop.air,
        crossing=job.crossing,
        nodes=nodes,
        progress=progress,
        stop=stop,
    )


def _cleaning(job: Job, proposal: Proposal) -> WeighOut | None:
    """A sacrificial shot as big as the first coat: it shows thin and air-trapping places too."""
    if not job.cleaning_shot:
        return None
    return _weigh(job, proposal.volumes[0] * job.resin.density, "cleaning shot")


def _brush_weigh(job: Job, brush: Brush) -> WeighOut | None:
    """The brush coat's cup, never less than the scale can weigh in ratio."""
    if not job.brush or brush.volume <= 0.0:
        return None
    return _weigh(job, max(brush.volume * job.resin.density, LEAST_BRUSH), "brush coat")


def _cost(job: Job, weighed: tuple[tuple[str, WeighOut], ...], cavity_volume: float) -> Cost:
    return casting_cost(
        job.prices,
        resin_mass=sum(w.a + w.b for _, w in weighed),
        pigment_mass=sum(w.pigment for _, w in weighed),
        hands_time=HANDS_PER_CASTING + HANDS_PER_COAT * len(weighed),
        solid_mass=cavity_volume * job.resin.density,
    )
