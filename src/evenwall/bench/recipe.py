"""What a casting's times are computed from, and how: the recipe (resin, shots, shop, hands) and the facts so far.

The times are always computed whole from both; nothing is patched. A cup that gelled earlier or later than the laws
say changes the resin's rate of cure for this shot and the ones after it, so that the laws give what was seen.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from scipy.optimize import brentq

from evenwall.bench.casting import BenchPlan, Move, Pose, ShotKind, ShotPlan, check
from evenwall.bench.facts import Facts, ShotFacts
from evenwall.errors import PlanError
from evenwall.film.state import Floats, Rubber
from evenwall.job import WET, Job, Plan, assumptions, handling
from evenwall.plan.clock import Conditions, mixing_cup
from evenwall.plan.timebudget import Handling, TimeBudget, time_budget
from evenwall.plan.weighout import ShotAmounts
from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind, bare_rubber, coated
from evenwall.resin.today import IN_THE_CUP, Minutes, Mix, Witness, coat_story
from evenwall.turning.kinematics import Motion

DAY: Final = 86_400.0  # a coat is followed for so long [s]
BAND: Final = (
    0.15  # how much later than forecast a film may gel, relative, where nothing better is known (assumed)
)
PACES: Final = (0.1, 10.0)  # rate of cure over the calibrated one that a seen cup may mean [-]
PUT_OFF: Final = 30.0  # the next coat is put off in steps of so many seconds
LONGEST_WAIT: Final = 4 * 3600.0  # [s]
BRUSHED: Final = 0.4e-3  # thickness of a brushed layer [m] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class RecipeShot:
    """One shot as it is weighed, poured and turned."""

    name: str
    kind: ShotKind
    mass_a: float  # [kg]
    mass_b: float  # [kg]
    mass_pigment: float  # [kg]
    coat: float  # mean thickness on the wall [m]
    cup: float  # brimful volume of its cup [m3]
    stays: float  # in cups and on the stick [kg]
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
    band: float = BAND  # relative
    witness: Witness = IN_THE_CUP  # what the maker watches
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


def recipe_of(job: Job, plan: Plan, *, band: float = BAND) -> Recipe:
    """The recipe of a planned job; `band` as the clock's sureness says it [relative]."""
    program = plan.program
    return recipe_from(
        job,
        cups=plan.weigh_out.shots,
        coats={shot.name: shot.coat for shot in plan.shots},
        area=float(plan.forecast.node_area.sum()),
        moves=moves_of(program.motion, begin=program.start, end=program.stop),
        band=band,
    )


def recipe_from(
    job: Job,
    *,
    cups: Sequence[ShotAmounts],
    coats: Mapping[str, float],
    area: float,
    moves: tuple[Move, ...],
    band: float = BAND,
) -> Recipe:
    """The recipe of weighed `cups` in the order of use on a wall of `area` [m2].

    coats: mean thickness [m] by the shot's name, where planned; moves: turning from the closing, of every shot.
    """
    shots = []
    for weighed in cups:
        even = (weighed.mass - weighed.stays) / (job.resin.density * area)
        shots.append(
            RecipeShot(
                name=weighed.name,
                kind=weighed.kind,
                mass_a=weighed.a,
                mass_b=weighed.b,
                mass_pigment=weighed.pigment,
                coat=BRUSHED if weighed.kind == "brush" else coats.get(weighed.name, even),
                cup=weighed.cup,
                stays=weighed.stays,
                moves=() if weighed.kind == "brush" else moves,
            )
        )
    shop = job.shop
    return Recipe(
        name=job.name,
        resin=job.resin,
        shots=tuple(shots),
        conditions=Conditions(resin=shop.resin, mold=shop.mold, air=shop.air, humidity=shop.humidity),
        handling=handling(job, wet=WET),
        rubber=job.mold.rubber,
        band=band,
        witness=job.shop.witness,
        board_off=job.mold.opening in ("base counts", "trimmed"),
        assumed=assumptions(job),
    )


def plan_of(recipe: Recipe, facts: Facts | None = None) -> BenchPlan:
    """The bench's plan of `recipe` given the facts; raises PlanError where no such casting can be made.

    Takes about ten milliseconds a shot, and a few times that where a cup's gel was seen.
    """
    known = facts or Facts()
    told = known.shots or tuple(ShotFacts() for _ in recipe.shots)
    conditions = _conditions(recipe.conditions, known)
    hands = replace(recipe.handling, close=known.close_for or recipe.handling.close)
    done: list[_Followed] = []
    pace = 1.0
    notes: list[str] = []
    shots: list[ShotPlan] = []
    behind = bare_rubber(recipe.rubber, conditions.mold)
    for shot, fact in zip(recipe.shots, told, strict=True):
        mix = _mix(recipe, shot, fact, conditions, hands)
        if done:
            behind, mixed_at = _next(recipe, done[-1], mix, fact, hands, conditions)
            poured = mixed_at - done[-1].mixed_at + hands.stir
            shots[-1] = _put_off(shots[-1], poured, known=fact.mixed_at is not None)
        else:
            mixed_at = fact.mixed_at or 0.0
        if fact.gel_cup is not None:
            pace, seen = _pace(recipe.resin, mix, behind, fact.gel_cup, told=shot.name)
            notes += seen
        resin = _faster(recipe.resin, pace)
        followed = _Followed(
            kind=shot.kind,
            mix=mix,
            minutes=coat_story(resin, mix, behind, end=DAY).minutes,
            budget=time_budget(resin, mix, behind, hands),
            behind=behind,
            resin=resin,
            mixed_at=mixed_at,
        )
        done.append(followed)
        shots.append(_shot(recipe, shot, fact, followed, hands))
        notes += _notes(shots[-1], shot, fact)
    return check(
        BenchPlan(
            name=recipe.name,
            shots=tuple(shots),
            open_after=max(done[-1].minutes.demold, shots[-1].gel_film_late),
            room=conditions.air,
            mold=conditions.mold,
            board_off=recipe.board_off,
            assumed=recipe.assumed,
            notes=tuple(notes),
        )
    )


def moves_of(motion: Motion, *, begin: float, end: float) -> tuple[Move, ...]:
    """The pushes of each axis of `motion` between `begin` and `end` [s]: a push ends where the axis turns back.

    Turns come out of the motion's own knots, so a recorded motion can be called out too.
    """
    moves: list[Move] = []
    columns: tuple[tuple[Literal["frame", "cradle"], Floats, Floats], ...] = (
        ("frame", motion.frame_angle, motion.frame_rate),
        ("cradle", motion.cradle_angle, motion.cradle_rate),
    )
    time = np.asarray(motion.time)
    inside = (time > begin) & (time < end)
    for axis, angle, rate in columns:
        if len(time) < 2:
            if rate[0] != 0.0:
                turns = float(rate[0]) * (end - begin) / (2.0 * math.pi)
                moves.append(Move(axis=axis, starts=0.0, lasts=end - begin, turns=turns))
            continue
        at = np.concatenate([[begin], time[inside], [end]])
        turned = np.interp(at, time, angle) / (2.0 * math.pi)
        way = np.sign(np.round(np.diff(turned), 6))
        cuts = [0, *(np.flatnonzero((way[1:] != way[:-1]) & (way[1:] != 0)) + 1), len(way)]
        for first, last in pairwise(cuts):
            moves.append(
                Move(
                    axis=axis,
                    starts=float(at[first] - begin),
                    lasts=float(at[last] - at[first]),
                    turns=float(turned[last] - turned[first]),
                )
            )
    return tuple(sorted((m for m in moves if m.lasts > 0), key=lambda m: (m.starts, m.axis)))


def _conditions(planned: Conditions, facts: Facts) -> Conditions:
    """The shop as it is: jugs stand in the room, so they go with it."""
    room = facts.room if facts.room is not None else planned.air
    resin = planned.resin + (room - planned.air)
    return replace(
        planned, air=room, resin=resin, mold=facts.mold if facts.mold is not None else planned.mold
    )


def _mix(recipe: Recipe, shot: RecipeShot, fact: ShotFacts, conditions: Conditions, hands: Handling) -> Mix:
    mass = shot.mass_a + shot.mass_b + shot.mass_pigment
    poured = mass - shot.stays
    share = 1.0 if fact.mass is None else max(fact.mass, 1e-4) / poured
    usual = hands.stir + 0.5 * hands.pour
    return Mix(
        mass=mass,
        temperature=conditions.resin,
        air_temperature=conditions.air,
        poured_at=usual if fact.poured_after is None else max(1.0, fact.poured_after - 0.5 * hands.pour),
        coat=shot.coat * share,
        cup=mixing_cup(shot.cup),
        rest=min(shot.stays, 0.5 * mass),
        witness=recipe.witness,
    )


def _next(
    recipe: Recipe, before: _Followed, mix: Mix, fact: ShotFacts, hands: Handling, conditions: Conditions
) -> tuple[Behind, float]:
    """What lies behind the next shot, and when it is mixed [s since the first mixing].

    Where nobody has mixed it yet: poured once the coat before is firm, and put off while the wall is too warm.
    """
    if fact.mixed_at is not None:
        return _behind(recipe, before, fact.mixed_at + mix.poured_at, conditions), fact.mixed_at
    if math.isinf(before.minutes.next_from):
        raise PlanError("the coat before never gets firm in a day: warm the mold or take a faster resin")
    firm = before.mixed_at + before.minutes.next_from

    def in_time(steps: int) -> bool:
        found = _behind(recipe, before, firm + steps * PUT_OFF, conditions)
        return time_budget(before.resin, mix, found, hands).spare >= 0.0

    last = int(LONGEST_WAIT / PUT_OFF) - 1
    steps = 0 if in_time(0) or not in_time(last) else bisect_left(range(last), True, key=in_time)
    pour = firm + steps * PUT_OFF
    return _behind(recipe, before, pour, conditions), max(before.mixed_at, pour - hands.stir)


def _put_off(shot: ShotPlan, poured: float, *, known: bool) -> ShotPlan:
    """`shot` whose next coat is poured from `poured` [s since its mixing], where that is still to come."""
    if known or poured <= shot.next_from:
        return shot
    return replace(shot, next_from=poured, next_to=max(shot.next_to, poured))


def _behind(recipe: Recipe, before: _Followed, poured: float, conditions: Conditions) -> Behind:
    """What a shot poured at `poured` [s since the first mixing] finds: the coats that stay, and their warmth.

    A brush coat covers little of the wall and a cleaning shot comes out: bare rubber.
    """
    if before.kind != "coat":
        return bare_rubber(recipe.rubber, conditions.mold)
    end = max(poured - before.mixed_at, before.mix.poured_at + 1.0)
    went = coat_story(before.resin, before.mix, before.behind, end=end).film
    return coated(before.behind, before.resin, before.mix.coat, went.temperature)


def _faster(resin: Resin, pace: float) -> Resin:
    """`resin` that cures `pace` times as fast."""
    return replace(resin, cure=resin.cure._replace(rate_factor=resin.cure.rate_factor * pace))


def _pace(resin: Resin, mix: Mix, behind: Behind, seen: float, *, told: str) -> tuple[float, list[str]]:
    """How many times as fast as calibrated this resin cures, from a cup that gelled after `seen` [s]."""

    def late(logarithm: float) -> float:
        story = coat_story(_faster(resin, math.exp(logarithm)), mix, behind, end=DAY)
        gel = min(story.minutes.gel_witness, DAY)
        return math.log(gel / seen)

    low, high = (math.log(edge) for edge in PACES)
    if seen <= mix.poured_at or late(low) < 0.0 or late(high) > 0.0:
        said = f"{told}: a cup that gels after {seen:.0f} s can't be this resin: mend the time or undo it"
        return 1.0, [said]
    return math.exp(float(brentq(late, low, high, xtol=1e-6))), []


def _shot(recipe: Recipe, shot: RecipeShot, fact: ShotFacts, went: _Followed, hands: Handling) -> ShotPlan:
    minutes, budget = went.minutes, went.budget
    if math.isinf(minutes.gel_film) or math.isinf(minutes.gel_witness):
        raise PlanError(
            f"{shot.name}: it does not gel within a day at {went.mix.air_temperature - 273.15:.0f} C: "
            "warm the room, the mold and the jugs"
        )
    stir = hands.stir
    cup_limit = min(budget.cup_limit, minutes.gel_film)
    within = max(min(budget.pour_within, cup_limit), 0.0)
    brushed = shot.kind == "brush"
    late = minutes.gel_film * (1.0 + recipe.band)
    return ShotPlan(
        name=shot.name,
        kind=shot.kind,
        mass_a=shot.mass_a,
        mass_b=shot.mass_b,
        mass_pigment=shot.mass_pigment,
        stir_for=min(stir, cup_limit),
        pour_at=min(stir, cup_limit),
        pour_within=cup_limit if brushed else within,
        pour_last=cup_limit,
        pour_for=hands.pour,
        close_for=hands.close,
        closed_within=min(cup_limit + hands.close, minutes.gel_film) if brushed else budget.closed_within,
        wet_for=hands.wet,
        gel_cup=minutes.gel_witness if fact.gel_cup is None else fact.gel_cup,
        gel_film=minutes.gel_film,
        gel_film_late=late,
        next_from=max(minutes.next_from, late),
        next_to=max(minutes.next_to, minutes.next_from, late),
        moves=shot.moves,
        pose=shot.pose,
    )


def _notes(plan: ShotPlan, shot: RecipeShot, fact: ShotFacts) -> Sequence[str]:
    """What a slip means for this shot and what can still be saved, one sentence each."""
    notes = []
    if plan.kind != "brush" and plan.pour_within < plan.pour_at:
        notes.append(
            f"{shot.name}: it thickens {plan.pour_at - plan.pour_within:.0f} s before it can be in: "
            "cool the resin, close faster or halve the shot"
        )
    poured = fact.poured_after
    if poured is not None and plan.kind != "brush":
        if poured > plan.pour_last + plan.pour_for:
            notes.append(
                f"{shot.name}: poured {poured - plan.pour_last:.0f} s after it was too thick to pour: open, take it "
                "out while it peels, and mix again"
            )
        elif poured > plan.pour_within + plan.pour_for:
            notes.append(
                f"{shot.name}: poured {poured - plan.pour_within - plan.pour_for:.0f} s late: turn at once, it runs "
                "less far; the next coat evens it out, or add one"
            )
    if fact.mass is not None:
        planned = plan.mass - shot.stays
        change = fact.mass / planned - 1.0
        if change > 0.25:
            notes.append(
                f"{shot.name}: {100 * change:.0f} % more than planned may set as a lump: let the excess run out now "
                "while it flows, and turn longer"
            )
        elif change < -0.15:
            notes.append(
                f"{shot.name}: {-100 * change:.0f} % less than planned: the wall stays thinner, add it to the next coat"
            )
    return notes
