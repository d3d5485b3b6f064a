"""How sure a clock is, what it hangs on, and what it means for the hands, in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from evenwall.plan.clock import Coat, Conditions, clock
from evenwall.plan.timebudget import Handling
from evenwall.resin.data import Resin
from evenwall.resin.heat import Rubber
from evenwall.resin.spread import Band, Influence, most_wanted, spread
from evenwall.resin.today import IN_THE_CUP, Minutes, Witness

LEVEL: Final = 2e-3  # a film that runs less than this down the wall stays as it is [m], assumed
KNOWN_BY: Final = {
    "reaction_heat": "put a thermometer into a full cup",
    "peak_exotherm": "put a thermometer into a full cup",
}
#: values whose names say too little
CALLED: Final = {
    "cure_activation": "quickening with warmth",
    "flow_activation": "thinning with warmth",
    "order_n": "order of the reaction",
    "order_m": "order of the autocatalysis",
    "seed": "start of the autocatalysis",
    "gel_conversion": "conversion at gel",
    "exponent_a": "first exponent of the thickening",
    "exponent_b": "second exponent of the thickening",
    "density_a": "density of part A",
    "density_b": "density of part B",
    "density": "density of the mix",
    "ratio": "ratio by weight",
    "recoat": "longest wait for the next coat",
    "shelf_life_opened": "shelf life once opened",
}


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


def sureness(
    resin: Resin,
    coats: Sequence[Coat],
    today: Conditions,
    handling: Handling,
    *,
    rubber: Rubber,
    witness: Witness = IN_THE_CUP,
) -> Sureness:
    """Bands of a clock's times, from every value of the sheet moved to both ends of its band; about 1 s."""
    alone = [coat for coat in coats if coat.kind == "coat"]

    def figures(moved: Resin) -> tuple[float, ...]:
        when = clock(moved, alone, today, handling, rubber=rubber, witness=witness, strict=False)
        times = []
        for coat in when.coats:
            m = coat.minutes
            times += [m.gel_film, m.gel_witness, m.film_lag, m.next_from]
        return (*times, when.open_after)

    found = spread(resin, figures)
    return Sureness(
        coats=tuple(
            CoatBands(
                gel_film=found.bands[4 * k],
                gel_witness=found.bands[4 * k + 1],
                film_lag=found.bands[4 * k + 2],
                next_from=found.bands[4 * k + 3],
            )
            for k in range(len(alone))
        ),
        open_after=found.bands[-1],
        hangs_on=found.influences[0],
        look_up=most_wanted(found),
    )


def film_band(sure: Sureness, *, cup_seen: bool = False) -> float:
    """How much later than computed a film may gel, at most, over its gel time [-].

    Once the cup's gel was seen and the times set right by it, only the lag's band is left.
    """
    return max(
        (
            bands.film_lag.high - bands.film_lag.middle
            if cup_seen
            else bands.gel_film.high - bands.gel_film.middle
        )
        / bands.gel_film.middle
        for bands in sure.coats
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
        f"perhaps {max(0, -low)} min before it, perhaps {max(0, high)} min after: turn till both stand"
    )


def lag_short(lag: Band) -> str:
    """The same in a few words, for a table."""
    low, middle, high = (round(value / 60.0) for value in (lag.low, lag.middle, lag.high))
    if low >= 0 and middle > 0:
        return f"turn {middle} min more ({low} to {high})"
    if high <= 0 and middle < 0:
        return f"film is {-middle} min ahead ({-high} to {-low})"
    return f"turn till both stand ({low} to {high} min)"


def look_up_sentence(wanted: Influence) -> str:
    """Which value nobody gave the film's gel hangs on most, and what knowing it is worth [s]."""
    how = KNOWN_BY.get(
        wanted.name,
        "ask the resin's maker, or time 5 g of it spread thin in a lid, which cure as the film does",
    )
    return (
        f"the {called(wanted.name)} is assumed and moves the film's gel by up to "
        f"{wanted.size / 60.0:.1f} min: {how}"
    )


def called(name: str) -> str:
    """A value of the sheet in words."""
    return CALLED.get(name, name.replace("_", " "))


def stop_with_cup_sentence(minutes: Minutes) -> str:
    """What happens if the turning stops when the witness cup gels."""
    if minutes.film_lag <= 0.0:
        return "stopping with the cup is safe here: the film has gelled before it"
    if math.isinf(minutes.gel_witness):
        return "this cup does not gel in a day: watch a drop on the mold's edge instead"
    runs = f"{1e3 * minutes.runs_on:.0f} mm" if minutes.runs_on < 1.0 else "all the way"
    if minutes.runs_on < LEVEL:
        return (
            f"stopping with the cup does no harm: the film gels {minutes.film_lag / 60.0:.0f} min later but runs under "
            f"{1e3 * LEVEL:.0f} mm by then"
        )
    return (
        f"stopping with the cup leaves the film {minutes.film_lag / 60.0:.0f} min in which it runs {runs} down an "
        "upright wall: thin above, thick below"
    )
