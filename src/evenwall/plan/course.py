"""How a job's casting goes: what its hands take, the clock of its coats, the shots and their turning."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.errors import MotionError, PlanError
from evenwall.film.pouring import Setting, setting_of
from evenwall.film.state import Brushed, Closing, Shot
from evenwall.film.thrown import CENTRIFUGAL_LIMIT, centrifugal_ratio, gentle_share
from evenwall.plan.casting_job import Job
from evenwall.plan.clock import Clock, Coat, Conditions, clock, layers, mix_of
from evenwall.plan.program import SETTLED_RUN, Program, turning_program
from evenwall.plan.pushes import Pushes
from evenwall.plan.shots import CavityMeasures, untried
from evenwall.plan.timebudget import Handling
from evenwall.plan.weighout import Order, WeighOut, weigh_out
from evenwall.resin.heat import Behind, bare_rubber
from evenwall.resin.today import CoatStory, Mix, coat_story
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

PERIODS: Final = 120.0  # of turning that is looked at for how hard it throws the liquid [s]
LONG: Final = 3600.0  # turned longer than hands last: common practice, no source [s]
VENT: Final = 3e-6  # a hole of 2 mm, where the mold is said to have a vent [m2]


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What the wanted wall alone gives, in milliseconds; a forecast may still change it."""

    coats: tuple[float, ...]  # mean thickness of each [m]
    volumes: tuple[float, ...]  # of each, on the wall [m3]
    weigh_out: WeighOut  # the coats' cups
    clock: Clock  # their times
    layers: tuple[Coat, ...]  # the coats as clock and turning take them


@dataclass(frozen=True, kw_only=True)
class Rehearsal:
    """What a quick film of the first coat says about the turning."""

    pushes: Pushes | None  # how the hands push; None where the job turns steadily
    why: str  # one sentence; "" where there was no choice
    hands: str  # what uneven hands do to the film, one sentence; "" where nothing is pushed
    settled_run: float  # how far the film may run down an upright wall after the stop without a sag [m]


@dataclass(frozen=True, kw_only=True)
class Course:
    """How the coats of one casting go."""

    weigh_out: WeighOut  # every cup in the order of use
    layers: tuple[Coat, ...]  # the same as the clock takes them
    clock: Clock
    shots: tuple[Shot, ...]  # the coats as the film's forecast takes them
    story: CoatStory  # the first coat in its cup and on the cold wall
    program: Program  # turning of the first coat; the later ones go the same way
    motion: Motion  # of the machine, its clock at the closing of the mold


def draft(job: Job, cavity: CavityMeasures) -> Draft:
    """The job's shots by its wanted wall or its own ones; PlanError in one sentence where there can be none."""
    coats, volumes = untried(cavity, job.wish)
    weighed = _weighed(job, volumes)
    goes = tuple(layers(weighed.shots, coats))
    times = clock_of(job, goes, strict=False)
    return Draft(coats=coats, volumes=volumes, weigh_out=weighed, clock=times, layers=goes)


def course(
    job: Job,
    coats: Sequence[float],
    volumes: Sequence[float],
    *,
    before: Sequence[Order] = (),
    thinnest: float = 1.0,
    program: Program | None = None,
    rehearsal: Rehearsal | None = None,
    strict: bool = False,
) -> Course:
    """The course of `coats` of so many metres made by shots of `volumes` [m3].

    `before`: brush coat and cleaning shot; `thinnest`: how thick the last coat is at its coolest place, over its
    mean [-]; the turning is the `program` where there is one, else it follows from the first coat and its
    `rehearsal`. With `strict`, raises PlanError where a shot can't be poured in time; always where it can't be weighed
    or would have to be turned without end.
    """
    weighed = _weighed(job, volumes, before)
    goes = tuple(layers(weighed.shots, coats, thinnest=thinnest))
    times = clock_of(job, goes, strict=strict)
    story = first_story(job, goes[len(before)])
    program = program or _program(job, story, coats[0], rehearsal)
    return Course(
        weigh_out=weighed,
        layers=goes,
        clock=times,
        shots=tuple(
            Shot(volume=volume, temperature=job.shop.resin, mixed_at=timed.mixed_at, pour_after=closed(job))
            for volume, timed in zip(volumes, times.coats, strict=True)
        ),
        story=story,
        program=program,
        motion=_motion(job, program),
    )


def conditions(job: Job) -> Conditions:
    """The shop today as the clock takes it."""
    shop = job.shop
    return Conditions(resin=shop.resin, mold=shop.mold, air=shop.air, humidity=shop.humidity)


def handling(job: Job) -> Handling:
    """How long these hands take."""
    shop = job.shop
    return Handling(
        stir=shop.stir, pour=shop.pour, close=shop.close, wet=shop.wet, hands=shop.hands, brush=shop.brush
    )


def closed(job: Job) -> float:
    """When the mold is shut and turns [s since mixing]."""
    return job.shop.stir + job.shop.pour + job.shop.close


def throw(job: Job) -> float:
    """Largest centrifugal acceleration over gravity [] of the job's steady turning; a hand's is slowed till gentle."""
    turning = job.turning
    if turning.pattern == "hand":
        return 0.0
    motion = patterns.constant(frame_rate=turning.frame_rate, cradle_rate=turning.cradle_rate)
    cross = np.asarray(job.crossing, dtype=np.float64)
    crossing = (float(cross[0]), float(cross[1]), float(cross[2]))
    return centrifugal_ratio(job.piece.surface.vertices, motion, crossing, until=PERIODS)


def throws(job: Job) -> bool:
    """Whether the turning would throw the liquid off the film's model."""
    return throw(job) > CENTRIFUGAL_LIMIT


def refuse_thrown(job: Job) -> None:
    """MotionError where the turning would throw the liquid: such a casting can't be planned."""
    ratio = throw(job)
    if ratio > CENTRIFUGAL_LIMIT:
        raise MotionError(
            f"turning throws the liquid outward with {ratio:.1f} times its weight where the film's model ends at"
            f" {CENTRIFUGAL_LIMIT:g}: turn slower, at {gentle_share(ratio):.0%} of this rate, or ask for a forecast"
            " to see where the liquid would lie"
        )


def refuse_endless(job: Job, story: CoatStory) -> None:
    """PlanError where the first coat never gels, or hands would have to turn it for longer than LONG until it does."""
    turned = story.minutes.gel_film - closed(job)
    if math.isfinite(turned) and (job.turning.pattern != "hand" or turned <= LONG):
        return
    coldest = min(job.shop.resin, job.shop.mold) - 273.15
    lasts = (
        f"would have to be turned for {turned / 60.0:.0f} min until it gels"
        if math.isfinite(turned)
        else "never gels"
    )
    raise PlanError(
        f"the first coat {lasts} at {coldest:.0f} C where hands last {LONG / 60.0:.0f} min at most: warm resin and"
        " mold, or take a faster resin"
    )


def orders(job: Job, volumes: Sequence[float]) -> list[Order]:
    """What the coats' cups have to hold; those that show are tinted."""
    shown = len(volumes) if job.tinted_coats is None else job.tinted_coats
    return [
        Order(name=f"coat {k} of {len(volumes)}", mass=volume * job.resin.density, tinted=k <= shown)
        for k, volume in enumerate(volumes, 1)
    ]


def clock_of(job: Job, coats: Sequence[Coat], *, strict: bool) -> Clock:
    """The clock of the job's `coats`; with `strict`, PlanError where one can't be poured in time."""
    return clock(
        job.resin,
        coats,
        conditions(job),
        handling(job),
        rubber=job.mold.rubber,
        witness=job.shop.witness,
        strict=strict,
    )


def first_mix(job: Job, first: Coat) -> tuple[Mix, Behind]:
    """The first coat's mix, and the cold mold that it comes on."""
    mix = mix_of(first, conditions(job), handling(job), job.shop.witness)
    return mix, bare_rubber(job.mold.rubber, job.shop.mold)


def first_story(job: Job, first: Coat) -> CoatStory:
    """What the first coat's resin goes through, in its cup and on the cold mold."""
    return coat_story(job.resin, *first_mix(job, first))


def first_program(job: Job, first: Coat) -> Program:
    """The hands' turning for the first coat; PlanError where its film gels before it can begin."""
    return _program(job, first_story(job, first), first.thickness)


def _program(job: Job, story: CoatStory, thickness: float, rehearsal: Rehearsal | None = None) -> Program:
    refuse_endless(job, story)
    return turning_program(
        time=story.film.slowest.time,
        viscosity=story.film.slowest.viscosity,
        gel=story.minutes.gel_film,
        start=closed(job),
        reach=farthest(job),
        thickness=thickness,
        density=job.resin.density,
        frame_rate=job.turning.frame_rate,
        cradle_rate=job.turning.cradle_rate,
        pushes=rehearsal.pushes if rehearsal else None,
        settled_run=rehearsal.settled_run if rehearsal else SETTLED_RUN,
    )


def farthest(job: Job) -> float:
    """Farthest wall from where the axes cross [m]."""
    return float(np.linalg.norm(job.piece.surface.vertices - np.asarray(job.crossing), axis=1).max())


def film_setting(
    job: Job, motion: Motion, shots: tuple[Shot, ...], *, brushed: Brushed | None = None
) -> Setting:
    """What the film of this job's casting goes by; the motion's clock starts at each shot's pour."""
    return setting_of(
        job.resin,
        motion,
        shots,
        rubber=job.mold.rubber,
        mold_temperature=job.shop.mold,
        air_temperature=job.shop.air,
        crossing=job.crossing,
        brushed=brushed,
        closing=Closing(
            opening=job.mold.opening_area,
            vent=0.0 if job.mold.sealed else VENT,
            cap=job.piece.cap,
            comes_off=job.mold.opening_area > 0.0 and job.mold.opening in ("trimmed", "pour hole"),
        ),
        rubber_limit=job.mold.heat_limit,
    )


def _weighed(job: Job, volumes: Sequence[float], before: Sequence[Order] = ()) -> WeighOut:
    return weigh_out(
        job.resin,
        [*before, *orders(job, volumes)],
        scale_step=job.shop.scale_step,
        cups=job.shop.cups,
        pigment=job.pigment,
        witness=job.shop.witness.mass,
    )


def _motion(job: Job, program: Program) -> Motion:
    turning, shut = job.turning, closed(job)
    if turning.pattern == "constant":
        motion = patterns.constant(frame_rate=turning.frame_rate, cradle_rate=turning.cradle_rate)
    else:
        motion = program.motion._replace(time=program.motion.time - shut)
    if turning.stop_after is None:
        return motion
    return patterns.stopped(motion, at=max(0.0, turning.stop_after - shut))
