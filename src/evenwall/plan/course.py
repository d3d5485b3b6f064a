"""How a job's casting goes: what its hands take, the clock of its coats, the shots and their turning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.errors import MotionError
from evenwall.film.state import Closing, Shot
from evenwall.film.thrown import CENTRIFUGAL_LIMIT, centrifugal_ratio, gentle_share
from evenwall.plan.casting_job import Job
from evenwall.plan.clock import Clock, Coat, Conditions, clock, mixing_cup
from evenwall.plan.program import Program, turning_program
from evenwall.plan.shots import CavityMeasures, check_wish, coat_thicknesses, shot_volumes
from evenwall.plan.timebudget import Handling
from evenwall.plan.weighout import Order, WeighOut, weigh_out
from evenwall.resin.heat import bare_rubber
from evenwall.resin.today import CoatStory, Mix, coat_story
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

PERIODS: Final = 120.0  # of turning that is looked at for how hard it throws the liquid [s]
VENT: Final = 3e-6  # a hole of 2 mm, where the mold is said to have a vent [m2]
WET: Final = 40.0  # turning until the whole wall is wetted [s] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What the wanted wall alone gives, in milliseconds; a forecast may still change it."""

    coats: tuple[float, ...]  # mean thickness of each [m]
    volumes: tuple[float, ...]  # of each, on the wall [m3]
    weigh_out: WeighOut  # the coats' cups
    clock: Clock  # their times
    layers: tuple[Coat, ...]  # the coats as clock and turning take them


@dataclass(frozen=True, kw_only=True)
class Course:
    """How the coats of one casting go."""

    clock: Clock
    shots: tuple[Shot, ...]  # as the film's forecast takes them
    program: Program  # turning of the first coat; the later ones go the same way
    motion: Motion  # of the machine, its clock at the closing of the mold


def draft(job: Job, cavity: CavityMeasures) -> Draft:
    """The job's shots by its wanted wall or its own ones; PlanError in one sentence where there can be none."""
    check_wish(cavity, job.wish)
    if job.wish.volumes:
        volumes = job.wish.volumes
        coats = tuple(volume / cavity.area for volume in volumes)
    else:
        coats = coat_thicknesses(job.wish.usual, job.wish.coats)
        volumes = shot_volumes(cavity, coats)
    weighed = _weighed(job, volumes)
    layers = _layers(coats, weighed)
    times = _clock(job, layers, strict=False)
    return Draft(coats=coats, volumes=volumes, weigh_out=weighed, clock=times, layers=layers)


def course(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...], *, strict: bool = False) -> Course:
    """The course of `coats` of so many metres made by shots of `volumes` [m3].

    With `strict`, raises PlanError where a shot can't be weighed or poured in time.
    """
    layers = _layers(coats, _weighed(job, volumes))
    times = _clock(job, layers, strict=strict)
    program = first_program(job, layers[0])
    return Course(
        clock=times,
        shots=tuple(
            Shot(volume=volume, temperature=job.shop.resin, mixed_at=timed.mixed_at, pour_after=closed(job))
            for volume, timed in zip(volumes, times.coats, strict=True)
        ),
        program=program,
        motion=_motion(job, program),
    )


def handling(job: Job, *, wet: float = WET) -> Handling:
    """How long these hands take; wet: of turning until the whole wall is wetted [s]."""
    return Handling(
        stir=job.shop.stir, pour=job.shop.pour, close=job.shop.close, wet=wet, hands=job.shop.hands
    )


def closed(job: Job) -> float:
    """When the mold is shut and turns [s since mixing]."""
    return job.shop.stir + job.shop.pour + job.shop.close


def closing_of(job: Job) -> Closing:
    """What shuts the air in."""
    return Closing(opening=job.mold.opening_area, vent=0.0 if job.mold.sealed else VENT)


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


def orders(job: Job, volumes: tuple[float, ...]) -> list[Order]:
    """What the coats' cups have to hold."""
    return [
        Order(name=f"coat {k} of {len(volumes)}", mass=volume * job.resin.density)
        for k, volume in enumerate(volumes, 1)
    ]


def first_story(job: Job, first: Coat) -> CoatStory:
    """What the first coat's resin goes through, in its cup and on the cold mold."""
    mix = Mix(
        mass=first.mass,
        temperature=job.shop.resin,
        air_temperature=job.shop.air,
        poured_at=job.shop.stir + 0.5 * job.shop.pour,
        coat=first.thickness,
        cup=mixing_cup(first.cup),
        rest=first.rest,
    )
    return coat_story(job.resin, mix, bare_rubber(job.mold.rubber, job.shop.mold))


def first_program(job: Job, first: Coat) -> Program:
    """The hands' turning for the first coat; PlanError where its film gels before it can begin."""
    story = first_story(job, first)
    arms = job.piece.surface.vertices - np.asarray(job.crossing)
    return turning_program(
        time=story.film.slowest.time,
        viscosity=story.film.slowest.viscosity,
        gel=story.minutes.gel_film,
        start=closed(job),
        reach=float(np.linalg.norm(arms, axis=1).max()),
        thickness=first.thickness,
        density=job.resin.density,
        frame_rate=job.turning.frame_rate,
        cradle_rate=job.turning.cradle_rate,
    )


def _weighed(job: Job, volumes: tuple[float, ...]) -> WeighOut:
    return weigh_out(
        job.resin,
        orders(job, volumes),
        scale_step=job.shop.scale_step,
        cups=job.shop.cups,
        pigment=job.pigment,
    )


def _layers(coats: tuple[float, ...], weighed: WeighOut) -> tuple[Coat, ...]:
    return tuple(
        Coat(name=shot.name, mass=shot.mass, thickness=coat, cup=shot.cup, rest=0.5 * shot.stays)
        for coat, shot in zip(coats, weighed.shots, strict=True)
    )


def _clock(job: Job, layers: tuple[Coat, ...], *, strict: bool) -> Clock:
    shop = job.shop
    return clock(
        job.resin,
        layers,
        Conditions(resin=shop.resin, mold=shop.mold, air=shop.air, humidity=shop.humidity),
        handling(job),
        rubber=job.mold.rubber,
        strict=strict,
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
