"""Can this shot be stirred, poured, closed and turned over the whole wall before it thickens; if not, what helps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from scipy.optimize import brentq

from evenwall.errors import PlanError
from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind
from evenwall.resin.today import Mix, coat_story, level_deadline

COOLER: Final = 12.0  # the lever "cooler resin" is tried down to so many kelvin
COLDEST: Final = 288.15  # colder resin is thicker and holds more air [K], assumed
SECOND_PAIR: Final = 0.5  # closing takes so much of its time with a second pair of hands [-], assumed
SLOWEST: Final = 0.02  # slowest rate of cure that the lever "slower resin" tries, over this one's [-]
CLOSE: Final = 0.5  # of no account [s]


@dataclass(frozen=True, kw_only=True)
class Handling:
    """How long the hands take for one shot, from a dry run against the stopwatch."""

    stir: float  # second cup included [s]
    pour: float  # [s]
    close: float  # from poured to clamped shut [s]
    wet: float  # of turning till the whole wall is wetted [s]
    hands: int = 1  # people at the machine
    brush: float = 120.0  # brushing the narrow places [s]


@dataclass(frozen=True, kw_only=True)
class Lever:
    """One way to more time."""

    words: str  # what to do, e.g. "halve the shot"
    gain: float  # more spare time with it [s]
    enough: bool  # with it alone the shot fits


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


def in_time(
    resin: Resin, mix: Mix, behind: Behind, handling: Handling, *, name: str, how: str = "poured"
) -> TimeBudget:
    """The time budget of the shot called `name`; raises PlanError, with the levers that help, where it fails.

    `how`: what is done with it, e.g. "brushed".
    """
    budget = time_budget(resin, mix, behind, handling)
    if budget.spare >= 0.0:
        return budget
    need, have = (
        (budget.poured, budget.cup_limit)
        if budget.poured > budget.cup_limit
        else (budget.wetted, budget.film_limit)
    )
    what = how if budget.poured > budget.cup_limit else "over the whole wall"
    raise PlanError(
        f"{name}: it is {what} after {need:.0f} s but the resin is too thick after {have:.0f} s: "
        + "; or ".join(
            f"{lever.words} ({lever.gain:.0f} s more)"
            for lever in levers(resin, mix, behind, handling)
            if lever.enough
        )
    )


def levers(resin: Resin, mix: Mix, behind: Behind, handling: Handling) -> tuple[Lever, ...]:
    """What would give the shot more time and how much, each tried by the same budget, in the order of their ease.

    Also for a shot that fits: then they say what to do on a day when the hands are slower.
    """
    before = time_budget(resin, mix, behind, handling).spare

    def lever(said: str, after: float) -> Lever:
        return Lever(words=said, gain=after - before, enough=after >= -CLOSE)

    def cooled(kelvin: float) -> float:
        return time_budget(resin, replace(mix, temperature=mix.temperature - kelvin), behind, handling).spare

    found = []
    if handling.hands == 1:
        helped = replace(handling, close=SECOND_PAIR * handling.close, hands=2)
        found.append(
            lever("take a second pair of hands to the clamps", time_budget(resin, mix, behind, helped).spare)
        )
    coldest = min(COOLER, mix.temperature - COLDEST)
    if coldest >= 1.0:
        kelvin = next((float(k) for k in range(1, int(coldest) + 1) if cooled(k) >= 0.0), coldest)
        if before >= 0.0:
            kelvin = min(3.0, coldest)
        found.append(lever(f"cool the resin to {mix.temperature - kelvin - 273.15:.0f} C", cooled(kelvin)))
    half = replace(mix, mass=0.5 * mix.mass, coat=0.5 * mix.coat)
    found.append(lever("halve the shot", time_budget(resin, half, behind, handling).spare))
    slower, spare = _slower(resin, mix, behind, handling)
    found.append(lever(f"take a resin with {slower / 60.0:.1f} min of working time", spare))
    return tuple(one for one in found if one.gain > CLOSE)


def _slower(resin: Resin, mix: Mix, behind: Behind, handling: Handling) -> tuple[float, float]:
    """Working time [s] of a resin that cures so much slower that the shot fits, and the spare time with it [s].

    For a shot that fits already: of one with half as much working time again.
    """

    def paced(pace: float) -> Resin:
        return replace(resin, cure=resin.cure._replace(rate_factor=pace * resin.cure.rate_factor))

    def spare(pace: float) -> float:
        return time_budget(paced(pace), mix, behind, handling).spare

    if spare(1.0) >= 0.0:
        pace = 2.0 / 3.0
    else:
        pace = 0.5
        while spare(pace) < 0.0 and pace > SLOWEST:
            pace *= 0.5
        if spare(pace) > 0.0:
            pace = float(brentq(spare, pace, 1.0, xtol=1e-3))
            pace *= 0.995
    budget = time_budget(paced(pace), mix, behind, handling)
    return budget.cup_limit, budget.spare
