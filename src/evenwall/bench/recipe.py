"""What a casting's times are computed from, and how: the recipe (resin, shots, shop, hands) and the facts so far.

The times are always computed whole from both; nothing is patched. A cup that gelled earlier or later than the laws
say changes the resin's rate of cure for this shot and the ones after it, so that the laws give what was seen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from scipy.optimize import brentq

from evenwall.bench.casting import BenchPlan, Move, Note, Pose, ShotKind, ShotPlan, check
from evenwall.bench.facts import Facts, ShotFacts
from evenwall.bench.moves import moves_of
from evenwall.bench.slips import room_notes, slips_of
from evenwall.errors import PlanError
from evenwall.film.places import side_words
from evenwall.film.state import Rubber
from evenwall.job import Job, Plan, assumptions, handling, thinnest
from evenwall.plan.clock import (
    Coat,
    Conditions,
    after_extra,
    covered,
    hands_for,
    layers,
    mix_of,
    next_pour,
)
from evenwall.plan.course import conditions
from evenwall.plan.program import Program
from evenwall.plan.sureness import Sureness, film_band
from evenwall.plan.timebudget import Handling, TimeBudget, time_budget
from evenwall.plan.weighout import WeighOut
from evenwall.resin.data import Resin, needed
from evenwall.resin.heat import Behind, bare_rubber
from evenwall.resin.today import IN_THE_CUP, Minutes, Mix, Witness, coat_story
from evenwall.turning import patterns

DAY: Final = 86_400.0  # a coat is followed for so long [s]
PACES: Final = (0.1, 10.0)  # rate of cure over the calibrated one that a seen cup may mean [-]
OFTEN: Final = (
    0.5  # of the film's band that the turning goes on for: one deviation where the band's end is two
)
OPEN: Final = 30.0  # unclamping and opening where no dry run said so [s] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class RecipeShot:
    """One shot as it is weighed, poured and turned."""

    coat: Coat  # as the clock takes it
    mass_a: float  # [kg]
    mass_b: float  # [kg]
    mass_pigment: float  # [kg]
    mass_filler: float = 0.0  # [kg]
    stays: float  # in cups and on the stick [kg]
    settled: float = 1.0  # turning may stop at this share of the film's gel time: it sags no more [-]
    moves: tuple[Move, ...] = ()  # turning, from the closing
    pose: Pose = field(default_factory=Pose)


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """A casting as it is planned; with no facts it gives the plan."""

    name: str
    resin: Resin
    shots: tuple[RecipeShot, ...]
    conditions: Conditions
    handling: Handling
    rubber: Rubber
    late: float  # how much later than forecast a film may gel, over its gel time [-]
    late_seen: float  # the same once the cup's gel was seen [-]
    witness: Witness = IN_THE_CUP  # what the maker watches
    ratio_tolerance: float = 0.02  # how far B : A may be off by the resin's sheet, relative
    batch_b: float = 0.0  # part B to tint in one go [kg]
    batch_pigment: float = 0.0  # pigment into it [kg]
    board_off: bool = False
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Followed:
    """A shot on its way through the casting."""

    kind: ShotKind
    mix: Mix
    minutes: Minutes
    budget: TimeBudget
    behind: Behind
    resin: Resin
    mixed_at: float  # [s since the first mixing]


def recipe_of(job: Job, plan: Plan) -> Recipe:
    """The recipe of a planned job."""
    return recipe_from(
        job,
        weighed=plan.weigh_out,
        coats=layers(
            plan.weigh_out.shots, [shot.coat for shot in plan.shots], thinnest=thinnest(plan.forecast)
        ),
        program=plan.program,
        sure=plan.sure,
        pose=_pose(job, plan),
        settled={shot.name: shot.turn_until / shot.clock.minutes.gel_film for shot in plan.shots},
    )


def _pose(job: Job, plan: Plan) -> Pose | None:
    """The pose in which a brush coat stands, and what then looks up."""
    if plan.pose is None:
        return None
    up = side_words(plan.pose.up, job.piece.sides)
    return Pose(frame_angle=plan.pose.frame_angle, cradle_angle=plan.pose.cradle_angle, up=up)


def recipe_from(
    job: Job,
    *,
    weighed: WeighOut,
    coats: Sequence[Coat],
    program: Program,
    sure: Sureness,
    pose: Pose | None = None,
    settled: Mapping[str, float] | None = None,
) -> Recipe:
    """The recipe of the cups of `weighed`, which make `coats`, in the order of use; all turned by `program`.

    `pose`: of the mold while a brush coat stands; `settled`: by a coat's name, the share of its film's gel time
    after which nothing sags any more.
    """
    turning, motion = job.turning, program.motion
    if turning.pattern == "constant":
        motion = patterns.constant(frame_rate=turning.frame_rate, cradle_rate=turning.cradle_rate)
    moves = moves_of(motion, begin=program.start, end=program.stop)
    return Recipe(
        name=job.name,
        resin=job.resin,
        shots=tuple(
            RecipeShot(
                coat=coat,
                mass_a=cup.a,
                mass_b=cup.b,
                mass_pigment=cup.pigment,
                mass_filler=cup.filler,
                stays=cup.stays,
                moves=() if cup.kind == "brush" else moves,
                pose=pose if pose and cup.kind == "brush" else Pose(),
                settled=min((settled or {}).get(cup.name, 1.0), 1.0),
            )
            for cup, coat in zip(weighed.shots, coats, strict=True)
        ),
        conditions=conditions(job),
        handling=handling(job),
        rubber=job.mold.rubber,
        late=film_band(sure),
        late_seen=film_band(sure, cup_seen=True),
        witness=job.shop.witness,
        ratio_tolerance=needed(job.resin.sheet.ratio_tolerance, "ratio tolerance").number,
        batch_b=weighed.batch_b,
        batch_pigment=weighed.batch_pigment,
        board_off=job.mold.opening in ("base counts", "trimmed"),
        assumed=assumptions(job),
    )


def plan_of(recipe: Recipe, facts: Facts | None = None) -> BenchPlan:
    """The bench's plan of `recipe` given the facts; raises PlanError where no such casting can be made.

    Takes about ten milliseconds a shot, and a few times that where a cup's gel was seen.
    """
    known = facts or Facts()
    told = known.shots or tuple(ShotFacts() for _ in recipe.shots)
    today = _today(recipe.conditions, known)
    hands = _hands(recipe.handling, known)
    done: list[_Followed] = []
    pace = 1.0
    notes = [*room_notes(recipe.conditions.air, today.air)]
    shots: list[ShotPlan] = []
    behind = bare_rubber(recipe.rubber, today.mold)
    for place, (shot, fact) in enumerate(zip(recipe.shots, told, strict=True)):
        mix = _mix(recipe, shot, fact, today, hands)
        mixed_at = fact.mixed_at or 0.0
        if done:
            behind, mixed_at = _next(recipe, done[-1], mix, fact, hands, today)
            poured = mixed_at - done[-1].mixed_at + hands.stir
            shots[-1] = _put_off(shots[-1], poured, known=fact.mixed_at is not None)
        forecast_cup = 0.0
        if fact.gel_cup is not None:
            forecast_cup = coat_story(_faster(recipe.resin, pace), mix, behind, end=DAY).minutes.gel_witness
            pace, seen = _pace(recipe.resin, mix, behind, fact.gel_cup, place=place)
            notes += seen
        resin = _faster(recipe.resin, pace)
        done.append(
            _Followed(
                kind=shot.coat.kind,
                mix=mix,
                minutes=coat_story(resin, mix, behind, end=DAY).minutes,
                budget=time_budget(resin, mix, behind, hands_for(shot.coat.kind, hands)),
                behind=behind,
                resin=resin,
                mixed_at=mixed_at,
            )
        )
        shots.append(_shot(recipe, shot, fact, done[-1], hands))
        notes += slips_of(place, shots[-1], fact, forecast_cup=forecast_cup)
    return check(
        BenchPlan(
            name=recipe.name,
            shots=tuple(shots),
            open_after=max(_opening(recipe, done[-1]), shots[-1].gel_film_late),
            room=today.air,
            mold=today.mold,
            ratio_tolerance=recipe.ratio_tolerance,
            board_off=recipe.board_off,
            open_for=OPEN if known.open_for is None else known.open_for,
            batch_b=recipe.batch_b,
            batch_pigment=recipe.batch_pigment,
            assumed=recipe.assumed,
            notes=tuple(notes),
        )
    )


def _hands(planned: Handling, facts: Facts) -> Handling:
    """The hands as the dry run timed them."""
    return replace(planned, close=facts.close_for or planned.close, wet=facts.wet_for or planned.wet)


def _today(planned: Conditions, facts: Facts) -> Conditions:
    """The shop as it is: jugs stand in the room, so they go with it."""
    room = facts.room if facts.room is not None else planned.air
    resin = planned.resin + (room - planned.air)
    return replace(
        planned, air=room, resin=resin, mold=facts.mold if facts.mold is not None else planned.mold
    )


def _mix(recipe: Recipe, shot: RecipeShot, fact: ShotFacts, today: Conditions, hands: Handling) -> Mix:
    """The mix as it was weighed and poured, as far as anybody said so."""
    planned = shot.coat.mass
    mass = planned if fact.weighed is None else max(fact.weighed + shot.mass_filler, 1e-4 + shot.stays)
    poured = mass - shot.stays if fact.mass is None else max(fact.mass, 1e-4)
    coat = replace(shot.coat, mass=mass, thickness=shot.coat.thickness * poured / (planned - shot.stays))
    kind = shot.coat.kind
    own = hands_for(kind, hands)
    mix = mix_of(coat, today, own, recipe.witness if kind == "coat" else IN_THE_CUP)
    if fact.poured_after is None:
        return mix
    return replace(mix, poured_at=max(1.0, fact.poured_after - 0.5 * own.pour))


def _next(
    recipe: Recipe, before: _Followed, mix: Mix, fact: ShotFacts, hands: Handling, today: Conditions
) -> tuple[Behind, float]:
    """What lies behind the next shot, and when it is mixed [s since the first mixing].

    A brush coat covers little of the wall and a cleaning shot comes out: after them it is bare rubber.
    """
    if before.kind != "coat":
        wait, _ = after_extra(before.kind, before.minutes, hands)
        mixed_at = before.mixed_at + wait if fact.mixed_at is None else fact.mixed_at
        return bare_rubber(recipe.rubber, today.mold), mixed_at
    if fact.mixed_at is not None:
        poured = max(fact.mixed_at + mix.poured_at - before.mixed_at, before.mix.poured_at + 1.0)
        return covered(before.resin, before.mix, before.behind, poured, today), fact.mixed_at
    last = before.mix, before.minutes
    found, pour, _ = next_pour(before.resin, last, before.behind, mix, hands, today)
    return found, before.mixed_at + max(0.0, pour - hands.stir)


def _put_off(shot: ShotPlan, poured: float, *, known: bool) -> ShotPlan:
    """`shot` whose next coat is poured from `poured` [s since its mixing], where that is still to come."""
    if known or poured <= shot.next_from:
        return shot
    return replace(shot, next_from=poured, next_to=max(shot.next_to, poured))


def _opening(recipe: Recipe, last: _Followed) -> float:
    """First opening [s since the last mixing]: where the coat is thinnest the wall is coolest."""
    thin = replace(last.mix, coat=recipe.shots[-1].coat.thinnest * last.mix.coat)
    coolest = coat_story(last.resin, thin, last.behind, end=DAY).minutes.demold
    return max(last.minutes.demold, coolest)


def _faster(resin: Resin, pace: float) -> Resin:
    """`resin` that cures `pace` times as fast."""
    return replace(resin, cure=resin.cure._replace(rate_factor=resin.cure.rate_factor * pace))


def _pace(resin: Resin, mix: Mix, behind: Behind, seen: float, *, place: int) -> tuple[float, list[Note]]:
    """How many times as fast as calibrated this resin cures, from a cup that gelled after `seen` [s]."""

    def late(logarithm: float) -> float:
        story = coat_story(_faster(resin, math.exp(logarithm)), mix, behind, end=DAY)
        gel = min(story.minutes.gel_witness, DAY)
        return math.log(gel / seen)

    low, high = (math.log(edge) for edge in PACES)
    if seen <= mix.poured_at or late(low) < 0.0 or late(high) > 0.0:
        return 1.0, [Note(say="odd_cup", shot=place, numbers={"shot": place, "seen_s": seen})]
    return math.exp(float(brentq(late, low, high, xtol=1e-6))), []


def _shot(recipe: Recipe, shot: RecipeShot, fact: ShotFacts, went: _Followed, hands: Handling) -> ShotPlan:
    minutes, budget, name = went.minutes, went.budget, shot.coat.name
    if math.isinf(minutes.gel_film) or math.isinf(minutes.gel_witness):
        raise PlanError(
            f"{name}: it does not gel within a day at {went.mix.air_temperature - 273.15:.0f} C: "
            "warm the room, the mold and the jugs"
        )
    cup_limit = min(budget.cup_limit, minutes.gel_film)
    brushed = shot.coat.kind == "brush"
    band = recipe.late if fact.gel_cup is None else recipe.late_seen
    late = minutes.gel_film * (1.0 + band)
    gel_cup = minutes.gel_witness if fact.gel_cup is None else fact.gel_cup
    still = minutes.gel_film * (1.0 + OFTEN * band) * (1.0 if brushed else shot.settled)
    turn_until = max(still, min(late, gel_cup), cup_limit)
    return ShotPlan(
        name=name,
        kind=shot.coat.kind,
        mass_a=shot.mass_a,
        mass_b=shot.mass_b,
        mass_pigment=shot.mass_pigment,
        mass_filler=shot.mass_filler,
        stays=shot.stays,
        stir_for=min(hands.stir, cup_limit),
        pour_at=min(hands.stir, cup_limit),
        pour_within=cup_limit if brushed else max(min(budget.pour_within, cup_limit), 0.0),
        pour_last=cup_limit,
        pour_for=hands.pour,
        close_for=hands.close,
        closed_within=min(cup_limit + hands.close, minutes.gel_film) if brushed else budget.closed_within,
        wet_for=hands.wet,
        gel_cup=gel_cup,
        gel_film=minutes.gel_film,
        gel_film_late=late,
        turn_until=turn_until,
        next_from=turn_until if brushed else max(minutes.next_from, turn_until),
        next_to=max(minutes.next_to, minutes.next_from, late, turn_until),
        moves=shot.moves,
        pose=shot.pose,
    )
