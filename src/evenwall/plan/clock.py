"""The minutes that matter for a sequence of coats: when to mix each, when it gels, the next one, the opening."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from scipy.optimize import brentq

from evenwall.errors import PlanError
from evenwall.plan.timebudget import Handling, TimeBudget, in_time, time_budget
from evenwall.plan.weighout import BRUSH_COAT, CLEANING_COAT, Kind, ShotAmounts
from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind, Rubber, bare_rubber, coated
from evenwall.resin.today import IN_THE_CUP, Minutes, Mix, Witness, coat_story
from evenwall.resin.witness import Cup

DAY: Final = 86400.0
LONGEST_WAIT: Final = 4 * 3600.0  # the next coat is put off by so much at most [s]
SOON: Final = 1.0  # the next coat's pour is found to so many seconds
COOLED: Final = "the wall has cooled enough for it to level"
BRUSHED: Final = "the brush coat has gelled"
CLEANED: Final = "the cleaning shot is out and the mold is cool"


@dataclass(frozen=True, kw_only=True)
class Coat:
    """One shot of the sequence."""

    name: str
    mass: float  # mixed [kg]
    thickness: float  # mean, on the wall [m]
    cup: float = 2.5e-4  # brimful volume of its cup [m3]
    rest: float = 0.004  # stays in the mixing cup [kg]
    kind: Kind = "coat"
    thinnest: float = 1.0  # thickness at the coolest place that counts, over the mean [-]


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """The shop today."""

    resin: float  # temperature of the parts [K]
    mold: float  # of the mold before the first coat [K]
    air: float  # [K]
    humidity: float = 0.45  # relative [-]


@dataclass(frozen=True, kw_only=True)
class CoatClock:
    """One coat's times."""

    name: str
    mixed_at: float  # [s since the first coat's mixing], below 0 for what comes before it
    minutes: Minutes  # [s since its own mixing]
    budget: TimeBudget  # [s since its own mixing]
    wall_temperature: float  # of the mold's wall when it is poured [K]
    waits_for: str  # what put the mixing off to here, "" for the first one


@dataclass(frozen=True, kw_only=True)
class Clock:
    """The whole sequence."""

    coats: tuple[CoatClock, ...]
    before: tuple[CoatClock, ...]  # cleaning shot and brush coat, where there are such
    open_after: float  # first opening, at the coolest place of the wall [s since the last coat's mixing]


def mixing_cup(volume: float) -> Cup:
    """A cup of brimful `volume` [m3], as tall as wide."""
    return Cup(diameter=math.cbrt(4.0 * volume / math.pi))


def layers(shots: Sequence[ShotAmounts], coats: Sequence[float], *, thinnest: float = 1.0) -> list[Coat]:
    """The weighed `shots` as the clock takes them; `coats` [m], the mean thickness of each that is a coat.

    `thinnest`: of a coat's thickness, what there is of it at its coolest place that counts [-].
    """
    thickness = iter(coats)
    others = {"brush": BRUSH_COAT, "cleaning": CLEANING_COAT}
    return [
        Coat(
            name=shot.name,
            kind=shot.kind,
            mass=shot.mass,
            thickness=next(thickness) if shot.kind == "coat" else others[shot.kind],
            cup=shot.cup,
            rest=shot.rest,
            thinnest=thinnest,
        )
        for shot in shots
    ]


def mix_of(coat: Coat, today: Conditions, handling: Handling, witness: Witness = IN_THE_CUP) -> Mix:
    """The mix of a coat as these hands pour it today."""
    return Mix(
        mass=coat.mass,
        temperature=today.resin,
        air_temperature=today.air,
        poured_at=handling.stir + 0.5 * handling.pour,
        coat=coat.thickness,
        cup=mixing_cup(coat.cup),
        rest=min(coat.rest, 0.5 * coat.mass),
        witness=witness,
    )


def clock(
    resin: Resin,
    coats: Sequence[Coat],
    today: Conditions,
    handling: Handling,
    *,
    rubber: Rubber,
    witness: Witness = IN_THE_CUP,
    strict: bool = True,
) -> Clock:
    """When to mix each of `coats`, brush coat and cleaning shot before them, and what it then does.

    A coat is poured once the one before is firm and the wall has cooled enough for it to wet everything and
    still run level. Raises PlanError where a coat can't be poured in time (`strict`), saying which lever helps.
    Takes a few milliseconds a coat.
    """
    if not any(coat.kind == "coat" for coat in coats):
        raise PlanError("0 coats, at least 1 is needed: plan the coats first")
    behind, start, waits_for = bare_rubber(rubber, today.mold), 0.0, ""
    done: list[CoatClock] = []
    previous: tuple[Coat, Mix, Minutes] | None = None
    for coat in coats:
        hands = hands_for(coat.kind, handling)
        mix = mix_of(coat, today, hands, witness if coat.kind == "coat" else IN_THE_CUP)
        if previous is not None:
            last = previous[0].kind
            if last == "coat":
                behind, pour, waits_for = next_pour(resin, previous[1:], behind, mix, handling, today)
                wait = max(0.0, pour - handling.stir)
            else:
                wait, waits_for = after_extra(last, previous[2], handling)
            start += wait
        if strict:
            how = "brushed" if coat.kind == "brush" else "poured"
            budget = in_time(resin, mix, behind, hands, name=coat.name, how=how)
        else:
            budget = time_budget(resin, mix, behind, hands)
        minutes = coat_story(resin, mix, behind, end=DAY).minutes
        done.append(
            CoatClock(
                name=coat.name,
                mixed_at=start,
                minutes=minutes,
                budget=budget,
                wall_temperature=float(behind.temperature[0]),
                waits_for=waits_for,
            )
        )
        previous = coat, mix, minutes
    extras = sum(coat.kind != "coat" for coat in coats)
    first = done[extras].mixed_at
    done = [replace(one, mixed_at=one.mixed_at - first) for one in done]
    thin = replace(mix, coat=coats[-1].thinnest * mix.coat)
    coolest = coat_story(resin, thin, behind, end=DAY).minutes.demold
    return Clock(
        coats=tuple(done[extras:]),
        before=tuple(done[:extras]),
        open_after=max(done[-1].minutes.demold, coolest),
    )


def next_pour(
    resin: Resin,
    previous: tuple[Mix, Minutes],
    behind: Behind,
    mix: Mix,
    handling: Handling,
    today: Conditions,
) -> tuple[Behind, float, str]:
    """What the next coat finds behind it, when its pour starts [s since the previous mixing], and why so late.

    It starts once the previous coat is firm; it is put off while the wall is too warm for it, and not at all where
    waiting up to LONGEST_WAIT does not help. Raises PlanError where the previous coat never gets firm.
    """
    last, minutes = previous
    firm = minutes.next_from
    if math.isinf(firm):
        raise PlanError("the coat before never gets firm in a day: warm the mold or take a faster resin")

    def spare(pour: float) -> float:
        found = covered(resin, last, behind, pour, today)
        return time_budget(resin, mix, found, handling).spare

    pour, why = firm, "the coat before is firm"
    if spare(firm) < 0.0 <= spare(firm + LONGEST_WAIT):
        pour, why = float(brentq(spare, firm, firm + LONGEST_WAIT, xtol=SOON)), COOLED
        while spare(pour) < 0.0:
            pour += SOON
    return covered(resin, last, behind, pour, today), pour, why


def covered(resin: Resin, mix: Mix, behind: Behind, time: float, today: Conditions) -> Behind:
    """What lies behind a coat that is poured `time` [s] after `mix`, the coat before it, was mixed."""
    went = coat_story(resin, mix, behind, end=time).film
    return coated(behind, resin, mix.coat, went.temperature)


def hands_for(kind: Kind, handling: Handling) -> Handling:
    """What these hands do for a shot of this kind: the brush coat is brushed, not poured and turned."""
    return replace(handling, pour=handling.brush, close=0.0, wet=0.0) if kind == "brush" else handling


def after_extra(kind: Kind, minutes: Minutes, handling: Handling) -> tuple[float, str]:
    """How long after a brush coat or cleaning shot the next one is mixed [s], and what it waits for.

    The brush coat covers little of the wall and takes the coat while it is tacky; a cleaning shot comes out.
    """
    if kind == "brush":
        return max(0.0, minutes.gel_film - handling.stir), BRUSHED
    return minutes.demold, CLEANED
