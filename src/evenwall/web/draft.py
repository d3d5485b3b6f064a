"""What the wanted wall alone gives, before a forecast has tried it: amounts, minutes and turning, in milliseconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenwall.job import Job, handling
from evenwall.plan.clock import Clock, Coat, Conditions, clock, mixing_cup
from evenwall.plan.program import Program, turning_program
from evenwall.plan.shots import CavityMeasures, check_wish, coat_thicknesses, shot_volumes
from evenwall.plan.weighout import Order, WeighOut, weigh_out
from evenwall.resin.heat import bare_rubber
from evenwall.resin.history import History
from evenwall.resin.today import CoatStory, Mix, coat_story
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion


@dataclass(frozen=True, kw_only=True)
class Draft:
    """Shots for the wanted wall; a forecast may still change them."""

    coats: tuple[float, ...]  # mean thickness of each [m]
    volumes: tuple[float, ...]  # of each, on the wall [m3]
    weigh_out: WeighOut  # the coats' cups
    clock: Clock  # their times


def draft(job: Job, cavity: CavityMeasures) -> Draft:
    """The job's shots by its wanted wall; PlanError in one sentence where there can be none."""
    wish = job.wish
    check_wish(cavity, wish)
    if wish.volumes:
        volumes = wish.volumes
        coats = tuple(volume / cavity.area for volume in volumes)
    else:
        coats = coat_thicknesses(wish.usual, wish.coats)
        volumes = shot_volumes(cavity, coats)
    orders = [
        Order(name=f"coat {k} of {len(volumes)}", mass=volume * job.resin.density)
        for k, volume in enumerate(volumes, 1)
    ]
    weighed = weigh_out(
        job.resin, orders, scale_step=job.shop.scale_step, cups=job.shop.cups, pigment=job.pigment
    )
    layers = [
        Coat(name=shot.name, mass=shot.mass, thickness=coat, cup=shot.cup, rest=shot.stays)
        for coat, shot in zip(coats, weighed.shots, strict=True)
    ]
    shop = job.shop
    times = clock(
        job.resin,
        layers,
        Conditions(resin=shop.resin, mold=shop.mold, air=shop.air, humidity=shop.humidity),
        handling(job),
        rubber=job.mold.rubber,
        strict=False,
    )
    return Draft(coats=coats, volumes=volumes, weigh_out=weighed, clock=times)


def first_story(job: Job, made: Draft) -> CoatStory:
    """What the first coat's resin goes through, in its cup and on the cold wall."""
    first = made.weigh_out.shots[0]
    mix = Mix(
        mass=first.mass,
        temperature=job.shop.resin,
        air_temperature=job.shop.air,
        poured_at=job.shop.stir + 0.5 * job.shop.pour,
        coat=made.coats[0],
        cup=mixing_cup(first.cup),
        rest=first.stays,
    )
    return coat_story(job.resin, mix, bare_rubber(job.mold.rubber, job.shop.mold))


def turning_of(job: Job, made: Draft) -> Program:
    """The hands' turning of the first coat; PlanError where the film gels before it can begin."""
    story = first_story(job, made)
    film: History = story.film.slowest
    arms = job.piece.surface.vertices - np.asarray(job.crossing)
    return turning_program(
        time=film.time,
        viscosity=film.viscosity,
        gel=story.minutes.gel_film,
        start=closed_at(job),
        reach=float(np.linalg.norm(arms, axis=1).max()),
        thickness=made.coats[0],
        density=job.resin.density,
        frame_rate=job.turning.frame_rate,
        cradle_rate=job.turning.cradle_rate,
    )


def closed_at(job: Job) -> float:
    """When the mold is shut and turns [s since mixing]."""
    return job.shop.stir + job.shop.pour + job.shop.close


def constant_motion(job: Job) -> Motion:
    """Both axes at the job's rates without end."""
    return patterns.constant(frame_rate=job.turning.frame_rate, cradle_rate=job.turning.cradle_rate)
