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
from evenwall.plan.clock import Clock, Coat, CoatClock, Conditions, clock, mixing_cup
from evenwall.plan.costs import Cost, Prices, casting_cost
from evenwall.plan.program import Program, turning_program
from evenwall.plan.shots import WallWish, cavity_measures, propose
from evenwall.plan.timebudget import Handling
from evenwall.plan.weighout import (
    Order,
    ShotAmounts,
    WeighOut,
    brush_mass,
    cleaning_mass,
    least_mass,
    weigh_out,
)
from evenwall.resin.data import Resin
from evenwall.resin.heat import bare_rubber
from evenwall.resin.today import Mix, coat_story
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

Progress = Callable[[float, str], None]
Stop = Callable[[], bool]

FINENESS: Final = {"quick": 2_500, "fine": 10_000, "finest": 20_000}  # nodes of a forecast
WET: Final = 40.0  # turning until the whole wall is wetted [s] (common practice, no source)
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
    frame_rate: float = 1.05  # [rad/s]
    cradle_rate: float = 0.84  # [rad/s]
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
    """One coat's shot of the plan."""

    name: str  # e.g. "coat 2 of 3"
    weigh: ShotAmounts
    coat: float  # mean thickness it makes [m]
    clock: CoatClock  # its times
    shot: Shot  # as the film's forecast takes it


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What to do, what it gives, what it costs, and why it is so."""

    shots: tuple[PlannedShot, ...]  # the coats
    weigh_out: WeighOut  # every cup: brush, cleaning shot and coats in the order of use
    brush: Brush  # narrow places to brush first
    program: Program  # turning of the first coat; the later ones go the same way
    open_after: float  # first opening, from the last coat's mixing [s]
    forecast: FilmForecast  # the quick one that the shots were tried by
    cost: Cost
    cautions: tuple[Caution, ...]
    reasons: tuple[str, ...]  # what was changed, refused or is doubtful, a sentence each
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
        _clock(job, coats, volumes, strict=True)  # refuse what can't be weighed or poured in time
        return _wall(
            job, coats, volumes, nodes, progress and (lambda share, text: progress(share, said + text)), stop
        )

    proposal = propose(cavity, job.wish, trial)
    volumes, coats = proposal.volumes, proposal.coats
    brush = brush_coat(job.piece.surface)
    weighed = weigh_out(
        job.resin,
        [*_extra_orders(job, brush, cavity.area), *_orders(job, volumes)],
        scale_step=job.shop.scale_step,
        cups=job.shop.cups,
        pigment=job.pigment,
    )
    times = _clock(job, coats, volumes, strict=True)
    program = _program(job, coats, volumes)
    return Plan(
        shots=tuple(
            PlannedShot(name=amounts.name, weigh=amounts, coat=coat, clock=timed, shot=shot)
            for amounts, coat, timed, shot in zip(
                weighed.shots[-len(volumes) :], coats, times.coats, _shots(job, times, volumes), strict=True
            )
        ),
        weigh_out=weighed,
        brush=brush,
        program=program,
        open_after=times.open_after,
        forecast=proposal.forecast,
        cost=_cost(job, weighed, cavity.volume),
        cautions=cautions_for(sealed=job.mold.sealed, opening=job.mold.opening, humidity=job.shop.humidity),
        reasons=(*proposal.reasons, *program.notes, *times.notes, *weighed.notes),
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
    return _wall(job, coats, volumes, nodes, progress, stop)


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


def handling(job: Job, *, wet: float = WET) -> Handling:
    """How long these hands take; wet: of turning until the whole wall is wetted [s]."""
    return Handling(
        stir=job.shop.stir, pour=job.shop.pour, close=job.shop.close, wet=wet, hands=job.shop.hands
    )


def _closed(job: Job) -> float:
    """When the mold is shut and turns [s since mixing]."""
    return job.shop.stir + job.shop.pour + job.shop.close


def _orders(job: Job, volumes: tuple[float, ...]) -> list[Order]:
    return [
        Order(name=f"coat {k} of {len(volumes)}", mass=volume * job.resin.density)
        for k, volume in enumerate(volumes, 1)
    ]


def _extra_orders(job: Job, brush: Brush, area: float) -> list[Order]:
    """Brush coat and cleaning shot, never less than the scale can weigh in ratio; not tinted but the brush coat."""
    least = least_mass(job.resin, job.shop.scale_step)
    orders = []
    if job.cleaning_shot:
        mass = max(least, cleaning_mass(job.resin, area))
        orders.append(Order(name="cleaning shot", kind="cleaning", mass=mass, tinted=False))
    if job.brush and brush.area > 0.0:
        mass = max(least, brush_mass(job.resin, brush.area))
        orders.append(Order(name="brush coat", kind="brush", mass=mass))
    return orders


def _weighed(job: Job, volumes: tuple[float, ...]) -> WeighOut:
    """The coats weighed out; PlanError where scale or cups don't allow it."""
    return weigh_out(
        job.resin,
        _orders(job, volumes),
        scale_step=job.shop.scale_step,
        cups=job.shop.cups,
        pigment=job.pigment,
    )


def _coats(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> list[Coat]:
    return [
        Coat(name=shot.name, mass=shot.mass, thickness=coat, cup=shot.cup, rest=0.5 * shot.stays)
        for coat, shot in zip(coats, _weighed(job, volumes).shots, strict=True)
    ]


def _clock(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...], *, strict: bool = False) -> Clock:
    shop = job.shop
    return clock(
        job.resin,
        _coats(job, coats, volumes),
        Conditions(resin=shop.resin, mold=shop.mold, air=shop.air, humidity=shop.humidity),
        handling(job),
        rubber=job.mold.rubber,
        strict=strict,
    )


def _shots(job: Job, times: Clock, volumes: tuple[float, ...]) -> tuple[Shot, ...]:
    return tuple(
        Shot(volume=volume, temperature=job.shop.resin, mixed_at=timed.mixed_at, pour_after=_closed(job))
        for volume, timed in zip(volumes, times.coats, strict=True)
    )


def _program(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> Program:
    """The turning for the first coat, on the cold mold."""
    first = _coats(job, coats, volumes)[0]
    mix = Mix(
        mass=first.mass,
        temperature=job.shop.resin,
        air_temperature=job.shop.air,
        poured_at=job.shop.stir + 0.5 * job.shop.pour,
        coat=first.thickness,
        cup=mixing_cup(first.cup),
        rest=first.rest,
    )
    story = coat_story(job.resin, mix, bare_rubber(job.mold.rubber, job.shop.mold))
    arms = job.piece.surface.vertices - np.asarray(job.crossing)
    return turning_program(
        time=story.film.slowest.time,
        viscosity=story.film.slowest.viscosity,
        gel=story.minutes.gel_film,
        start=_closed(job),
        reach=float(np.linalg.norm(arms, axis=1).max()),
        thickness=first.thickness,
        density=job.resin.density,
        frame_rate=job.turning.frame_rate,
        cradle_rate=job.turning.cradle_rate,
    )


def _motion(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> Motion:
    """The motion of the machine, its clock at the closing of the mold."""
    turning, closed = job.turning, _closed(job)
    if turning.pattern == "constant":
        motion = patterns.constant(frame_rate=turning.frame_rate, cradle_rate=turning.cradle_rate)
    else:
        moved = _program(job, coats, volumes).motion
        motion = moved._replace(time=moved.time - closed)
    if turning.stop_after is None:
        return motion
    return patterns.stopped(motion, at=max(0.0, turning.stop_after - closed))


def _wall(
    job: Job,
    coats: tuple[float, ...],
    volumes: tuple[float, ...],
    nodes: int,
    progress: Progress | None,
    stop: Stop | None,
) -> FilmForecast:
    return film_forecast(
        job.piece.surface,
        job.resin,
        _motion(job, coats, volumes),
        _shots(job, _clock(job, coats, volumes), volumes),
        rubber=job.mold.rubber,
        mold_temperature=job.shop.mold,
        air_temperature=job.shop.air,
        crossing=job.crossing,
        nodes=nodes,
        progress=progress,
        stop=stop,
    )


def _cost(job: Job, weighed: WeighOut, cavity_volume: float) -> Cost:
    return casting_cost(
        job.prices,
        resin_mass=weighed.a + weighed.b,
        pigment_mass=weighed.pigment,
        hands_time=HANDS_PER_CASTING + HANDS_PER_COAT * len(weighed.shots),
        solid_mass=cavity_volume * job.resin.density,
    )
