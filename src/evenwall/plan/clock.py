"""The minutes that matter for a sequence of coats: when to mix each, when it gels, the next one, the opening."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from evenwall.errors import PlanError
from evenwall.plan.timebudget import Handling, TimeBudget, in_time, time_budget
from evenwall.resin.data import DataSheet, Resin, needed
from evenwall.resin.heat import Behind, Rubber, bare_rubber, coated
from evenwall.resin.spread import Band, Influence, most_wanted, spread
from evenwall.resin.today import Minutes, Mix, coat_story
from evenwall.resin.witness import Cup

DAY: Final = 86400.0
STEP: Final = 30.0  # the next coat is put off in steps of so many seconds
LONGEST_WAIT: Final = 4 * 3600.0  # [s]
THIN_WALL: Final = 4e-3  # a wall under this warps if it is opened warm [m], assumed
WARM_MOLD: Final = 3.0  # the mold is called warm from so many kelvin over its start


@dataclass(frozen=True, kw_only=True)
class Coat:
    """One shot of the sequence."""

    name: str
    mass: float  # mixed [kg]
    thickness: float  # mean, on the wall [m]
    cup: float = 2.5e-4  # brimful volume of its cup [m3]
    rest: float = 0.004  # stays in the mixing cup [kg]


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
    mixed_at: float  # [s since the first coat's mixing]
    minutes: Minutes  # [s since its own mixing]
    budget: TimeBudget  # [s since its own mixing]
    wall_temperature: float  # of the mold's wall when it is poured [K]
    waits_for: str  # what put the mixing off to here, "" for the first coat


@dataclass(frozen=True, kw_only=True)
class Clock:
    """The whole sequence."""

    coats: tuple[CoatClock, ...]
    open_after: float  # first opening [s since the last coat's mixing]
    notes: tuple[str, ...]  # one sentence each


@dataclass(frozen=True, kw_only=True)
class CoatBands:
    """How sure one coat's times are."""

    gel_film: Band  # [s since its mixing]
    gel_witness: Band  # [s since its mixing]
    film_lag: Band  # [s long]
    next_from: Band  # [s since its mixing]


@dataclass(frozen=True, kw_only=True)
class Sureness:
    """How sure a clock is, and what would make it surer."""

    coats: tuple[CoatBands, ...]
    open_after: Band  # [s since the last coat's mixing]
    hangs_on: tuple[Influence, ...]  # what the first coat's film gel hangs on, largest first
    look_up: Influence | None  # the value nobody gave that it hangs on most


def mixing_cup(volume: float) -> Cup:
    """A cup of brimful `volume` [m3], as tall as wide."""
    return Cup(diameter=math.cbrt(4.0 * volume / math.pi))


def clock(
    resin: Resin,
    coats: Sequence[Coat],
    today: Conditions,
    handling: Handling,
    *,
    rubber: Rubber,
    witness: float | None = None,
    strict: bool = True,
) -> Clock:
    """When to mix each coat and what it then does; `witness` [kg] poured into a cup of its own, else the rest.

    A coat is poured once the one before is firm and the wall has cooled enough for it to wet everything and
    still run level. Raises PlanError where a coat can't be poured in time (`strict`), saying which lever helps.
    Takes a few milliseconds a coat.
    """
    if not coats:
        raise PlanError("0 coats, at least 1 is needed: plan the coats first")
    behind = bare_rubber(rubber, today.mold)
    start, done, previous = 0.0, [], None
    waits_for = ""
    for coat in coats:
        mix = _mix(coat, today, handling, witness)
        if previous is not None:
            behind, wait, waits_for = _next(resin, previous, behind, mix, handling, today)
            start += wait
        check = in_time if strict else _unchecked
        budget = check(resin, mix, behind, handling, name=coat.name)
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
        previous = mix, minutes
    return Clock(
        coats=tuple(done),
        open_after=done[-1].minutes.demold,
        notes=tuple(_notes(resin, coats, today, done)),
    )


def sureness(
    sheet: DataSheet,
    coats: Sequence[Coat],
    today: Conditions,
    handling: Handling,
    *,
    rubber: Rubber,
    witness: float | None = None,
    change: Callable[[Resin], Resin] | None = None,
) -> Sureness:
    """Bands of a clock's times, from every value of the sheet moved to both ends of its band; about 1 s.

    `change` is done to every resin calibrated on the way, for example a filler.
    """

    def figures(resin: Resin) -> tuple[float, ...]:
        poured = resin if change is None else change(resin)
        when = clock(poured, coats, today, handling, rubber=rubber, witness=witness, strict=False)
        times = []
        for coat in when.coats:
            m = coat.minutes
            times += [m.gel_film, m.gel_witness, m.film_lag, m.next_from]
        return (*times, when.open_after)

    found = spread(sheet, figures)
    return Sureness(
        coats=tuple(
            CoatBands(
                gel_film=found.bands[4 * k],
                gel_witness=found.bands[4 * k + 1],
                film_lag=found.bands[4 * k + 2],
                next_from=found.bands[4 * k + 3],
            )
            for k in range(len(coats))
        ),
        open_after=found.bands[-1],
        hangs_on=found.influences[0],
        look_up=most_wanted(found),
    )


def lag_sentence(lag: Band) -> str:
    """What the maker does when the witness cup has gelled, from the film lag's band [s]."""
    low, middle, high = (round(value / 60.0) for value in (lag.low, lag.middle, lag.high))
    if low >= 0 and middle > 0:
        return f"turn {middle} min more after the cup has gelled ({low} to {high} min)"
    if high <= 0 and middle < 0:
        return f"the film is ahead of the cup by {-middle} min ({-high} to {-low} min): the cup tells it late"
    return (
        f"the film gels about {abs(middle)} min {'after' if middle >= 0 else 'before'} the cup, "
        f"perhaps {-low} min before it, perhaps {high} min after: turn till both stand"
    )


def look_up_sentence(wanted: Influence) -> str:
    """Which value nobody gave the film's gel hangs on most, and what knowing it is worth [s]."""
    known_by = {
        "cure_activation": "time a second cup at another temperature",
        "reaction_heat": "put a thermometer into a cup",
    }
    how = known_by.get(wanted.name, "look it up on the data sheet, or make a cup test")
    return (
        f"the {wanted.name.replace('_', ' ')} is assumed and moves the film's gel by up to "
        f"{wanted.size / 60.0:.1f} min: {how}"
    )


def stop_with_cup_sentence(minutes: Minutes) -> str:
    """What happens if the turning stops when the witness cup gels."""
    if minutes.film_lag <= 0.0:
        return "stopping with the cup is safe here: the film has gelled before it"
    return (
        f"stopping with the cup leaves the film {minutes.film_lag / 60.0:.0f} min to run down the wall: "
        "thin above, thick below"
    )


def _mix(coat: Coat, today: Conditions, handling: Handling, witness: float | None) -> Mix:
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


def _unchecked(resin: Resin, mix: Mix, behind: Behind, handling: Handling, *, name: str) -> TimeBudget:
    return time_budget(resin, mix, behind, handling)


def _next(
    resin: Resin,
    previous: tuple[Mix, Minutes],
    behind: Behind,
    mix: Mix,
    handling: Handling,
    today: Conditions,
) -> tuple[Behind, float, str]:
    """What the next coat finds behind it, how long after the previous mixing it is mixed, and why so late.

    Its pour starts once the previous coat is firm; it is put off while the wall is too warm for it.
    """
    last, minutes = previous
    firm = minutes.next_from
    if math.isinf(firm):
        raise PlanError("the coat before never gets firm in a day: warm the mold or take a faster resin")
    pour, why = firm, "the coat before is firm"
    found = _after(resin, last, behind, pour, today)
    while time_budget(resin, mix, found, handling).spare < 0.0 and pour < firm + LONGEST_WAIT:
        pour += STEP
        found, why = _after(resin, last, behind, pour, today), "the wall has cooled enough for it to level"
    if pour >= firm + LONGEST_WAIT:
        found, pour, why = _after(resin, last, behind, firm, today), firm, "the coat before is firm"
    return found, max(0.0, pour - handling.stir), why


def _after(resin: Resin, mix: Mix, behind: Behind, time: float, today: Conditions) -> Behind:
    went = coat_story(resin, mix, behind, end=time).film
    return coated(behind, resin, mix.coat, went.temperature)


def _notes(resin: Resin, coats: Sequence[Coat], today: Conditions, done: Sequence[CoatClock]) -> list[str]:
    """Where the maker should look out, one sentence each."""
    notes = []
    sheet = resin.sheet
    coldest = needed(sheet.storage_temperature, "storage temperature").number
    if today.resin < coldest:
        notes.append(
            f"the jugs are at {today.resin - 273.15:.0f} C, under {coldest - 273.15:.0f} C: thicker, slower and "
            "full of air, so let them warm up in the shop first"
        )
    driest = needed(sheet.humidity_limit, "humidity limit").number
    if today.humidity > driest:
        notes.append(
            f"the air is at {100 * today.humidity:.0f} % humidity, over {100 * driest:.0f} %: isocyanate foams with "
            "water, so close the jugs at once and keep paper and wood away from the mix"
        )
    if sheet.moisture_note:
        notes.append(sheet.moisture_note)
    for coat in done:
        peak = coat.minutes.cup_peak
        if peak > resin.heat_limit:
            notes.append(
                f"{coat.name}: what is left in the cup may reach {peak - 273.15:.0f} C: do not leave it in a heap"
            )
        if coat.wall_temperature > today.mold + WARM_MOLD:
            notes.append(
                f"{coat.name}: the mold is warm from the coat before ({coat.wall_temperature - 273.15:.0f} C), "
                f"so its film gels after {coat.minutes.gel_film / 60:.1f} min"
            )
    for earlier, later in pairwise(done):
        if later.mixed_at + later.budget.poured > earlier.mixed_at + earlier.minutes.next_to:
            notes.append(f"{later.name} comes too late to bond well: roughen the coat before, or wait less")
    total = sum(coat.thickness for coat in coats)
    if total < THIN_WALL:
        notes.append(
            f"a wall of {1e3 * total:.1f} mm warps if it is opened early: let it cool in the mold, support it "
            "while it cools, and open later rather than sooner"
        )
    return notes
