"""The resin today on one page: its clock, the first coat in cup and on the wall, and what gives more time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from evenwall.plan.casting_job import Job
from evenwall.plan.cautions import Caution, cautions_today
from evenwall.plan.clock import Clock, Coat
from evenwall.plan.course import clock_of, conditions, first_mix, first_story, handling
from evenwall.plan.sureness import Sureness, sureness
from evenwall.plan.timebudget import Lever, levers
from evenwall.resin.curves import Curves, curves
from evenwall.resin.today import CoatStory

#: what a data sheet measures, on a coat as the trade pours it; stands in while there is no piece
SHEET_COAT: Final = Coat(name="100 g", mass=0.1, thickness=1e-3)


@dataclass(frozen=True, kw_only=True)
class ResinToday:
    """What the resin does today with these coats."""

    first: Coat
    clock: Clock
    story: CoatStory  # of the first coat
    curves: Curves  # of the first coat
    levers: tuple[Lever, ...]  # of the first coat
    cautions: tuple[Caution, ...]


def resin_today(job: Job, coats: Sequence[Coat] = (SHEET_COAT,)) -> ResinToday:
    """The resin's day with `coats`, whether or not they can be poured in time; a few milliseconds a coat."""
    when = clock_of(job, coats, strict=False)
    first = next(coat for coat in coats if coat.kind == "coat")
    story = first_story(job, first)
    return ResinToday(
        first=first,
        clock=when,
        story=story,
        curves=curves(job.resin, story),
        levers=levers(job.resin, *first_mix(job, first), handling(job)),
        cautions=cautions_today(
            job.resin, conditions(job), when, wall=sum(c.thickness for c in coats if c.kind == "coat")
        ),
    )


def how_sure(job: Job, coats: Sequence[Coat] = (SHEET_COAT,)) -> Sureness:
    """How sure the times of these coats are; about a second."""
    return sureness(
        job.resin,
        coats,
        conditions(job),
        handling(job),
        rubber=job.mold.rubber,
        witness=job.shop.witness,
    )
