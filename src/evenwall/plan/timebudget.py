"""Can this shot be stirred, poured, closed and turned over the whole wall before it thickens; if not, what helps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from evenwall.errors import PlanError
from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind
from evenwall.resin.today import Mix, coat_story, level_deadline

COOLER: Final = 12  # the lever "cooler resin" is tried down to so many kelvin
COLDEST: Final = 288.15  # colder resin is thicker and holds more air [K], assumed
SECOND_PAIR: Final = 0.5  # closing takes so much of its time with a second pair of hands [-], assumed


@dataclass(frozen=True, kw_only=True)
class Handling:
    """How long the hands take for one shot, from a dry run against the stopwatch."""

    stir: float  # second cup included [s]
    pour: float  # [s]
    close: float  # from poured to clamped shut [s]
    wet: float  # of turning till the whole wall is wetted [s]
    hands: int = 1  # people at the machine


@dataclass(frozen=True, kw_only=True)
class TimeBudget:
    """One shot's time against what the resin gives; every instant [s since mixing]."""

    poured: float  # the pour ends, as planned
    closed: float  # the mold is shut, as planned
    wetted: float  # the whole wall is wetted, as planned
    cup_limit: float  # the mix in the cup is too thick to pour
    film_limit: float  # the film on the wall is too thick to run
    pour_within: float  # latest start of the pour
    closed_within: float  # latest closing
    spare: float  # [s long], negative: it can't be done


def time_budget(resin: Resin, mix: Mix, behind: Behind, handling: Handling) -> TimeBudget:
    """Time of one shot: the pour against the cup, the first wetting against the film; takes a millisecond."""
    poured = handling.stir + handling.pour
    closed = poured + handling.close
    wetted = closed + handling.wet
    story = coat_story(resin, replace(mix, poured_at=handling.stir + 0.5 * handling.pour), behind)
    cup, film = story.minutes.working, level_deadline(resin, story.film)
    last_start = min(cup - handling.pour, film - handling.wet - handling.close - handling.pour)
    return TimeBudget(
        poured=poured,
        closed=closed,
        wetted=wetted,
        cup_limit=cup,
        film_limit=film,
        pour_within=max(0.0, last_start),
        closed_within=max(0.0, film - handling.wet),
        spare=last_start - handling.stir,
    )


def in_time(resin: Resin, mix: Mix, behind: Behind, handling: Handling, *, name: str) -> TimeBudget:
    """The time budget of the shot called `name`; raises PlanError, with the lever that helps, where it fails."""
    budget = time_budget(resin, mix, behind, handling)
    if budget.spare >= 0.0:
        return budget
    need, have = (
        (budget.poured, budget.cup_limit)
        if budget.poured > budget.cup_limit
        else (budget.wetted, budget.film_limit)
    )
    what = "poured" if budget.poured > budget.cup_limit else "over the whole wall"
    raise PlanError(
        f"{name}: it is {what} after {need:.0f} s but the resin is too thick after {have:.0f} s: "
        + "; or ".join(levers(resin, mix, behind, handling))
    )


def levers(resin: Resin, mix: Mix, behind: Behind, handling: Handling) -> tuple[str, ...]:
    """What would make the shot fit, each tried by the same budget, in the order of their ease."""
    found = []

    def fits(other: Mix, hands: Handling = handling) -> bool:
        return time_budget(resin, other, behind, hands).spare >= 0.0

    if handling.hands == 1 and fits(mix, replace(handling, close=SECOND_PAIR * handling.close, hands=2)):
        found.append("take a second pair of hands to the clamps")
    for colder in range(1, COOLER + 1):
        cold = mix.temperature - colder
        if cold < COLDEST:
            break
        if fits(replace(mix, temperature=cold)):
            found.append(f"cool the resin to {cold - 273.15:.0f} C")
            break
    if fits(replace(mix, mass=0.5 * mix.mass, coat=0.5 * mix.coat)):
        found.append("halve the shot")
    short = -time_budget(resin, mix, behind, handling).spare
    found.append(f"take a resin with at least {short:.0f} s more working time")
    return tuple(found)
