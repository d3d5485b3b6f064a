"""How a job's casting goes: what its hands take, the clock of its coats, the shots and their turning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.film.state import Shot
from evenwall.plan.casting_job import Job
from evenwall.plan.clock import Clock, Coat, Conditions, clock, mixing_cup
from evenwall.plan.program import Program, turning_program
from evenwall.plan.timebudget import Handling
from evenwall.plan.weighout import Order, weigh_out
from evenwall.resin.heat import bare_rubber
from evenwall.resin.today import Mix, coat_story
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

WET: Final = 40.0  # turning until the whole wall is wetted [s] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Course:
    """How the coats of one casting go."""

    clock: Clock
    shots: tuple[Shot, ...]  # as the film's forecast takes them
    program: Program  # turning of the first coat; the later ones go the same way
    motion: Motion  # of the machine, its clock at the closing of the mold


def course(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...], *, strict: bool = False) -> Course:
    """The course of `coats` of so many metres made by shots of `volumes` [m3].

    With `strict`, raises PlanError where a shot can't be weighed or poured in time.
    """
    weighed = _coats(job, coats, volumes)
    times = _clock(job, weighed, strict=strict)
    program = _program(job, weighed[0])
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


def orders(job: Job, volumes: tuple[float, ...]) -> list[Order]:
    """What the coats' cups have to hold."""
    return [
        Order(name=f"coat {k} of {len(volumes)}", mass=volume * job.resin.density)
        for k, volume in enumerate(volumes, 1)
    ]


def _coats(job: Job, coats: tuple[float, ...], volumes: tuple[float, ...]) -> list[Coat]:
    weighed = weigh_out(
        job.resin,
        orders(job, volumes),
        scale_step=job.shop.scale_step,
        cups=job.shop.cups,
        pigment=job.pigment,
    )
    return [
        Coat(name=shot.name, mass=shot.mass, thickness=coat, cup=shot.cup, rest=0.5 * shot.stays)
        for coat, shot in zip(coats, weighed.shots, strict=True)
    ]


def _clock(job: Job, weighed: list[Coat], *, strict: bool) -> Clock:
    shop = job.shop
    return clock(
        job.resin,
        weighed,
        Conditions(resin=shop.resin, mold=shop.mold, air=shop.air, humidity=shop.humidity),
        handling(job),
        rubber=job.mold.rubber,
        strict=strict,
    )


def _program(job: Job, first: Coat) -> Program:
    """The turning for the first coat, on the cold mold."""
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
        start=closed(job),
        reach=float(np.linalg.norm(arms, axis=1).max()),
        thickness=first.thickness,
        density=job.resin.density,
        frame_rate=job.turning.frame_rate,
        cradle_rate=job.turning.cradle_rate,
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
