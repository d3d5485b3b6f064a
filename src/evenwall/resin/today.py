"""Today's minutes of one coat: what the mixing cup, the maker's witness and the film on the wall do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind, SlabHistory, slab_history
from evenwall.resin.history import History, state_at, time_of_conversion, time_of_viscosity
from evenwall.resin.witness import Cup, cup_history, gel_time, pot_life, rest_history

USUAL_CUP: Final = Cup()
WARM: Final = 8.0  # a wall so much warmer than the shop is still soft [K], assumed


@dataclass(frozen=True, kw_only=True)
class Mix:
    """One shot as it is mixed and poured."""

    mass: float  # mixed in one cup [kg]
    temperature: float  # of the parts [K]
    air_temperature: float  # [K]
    poured_at: float  # [s since mixing]
    coat: float  # mean thickness on the wall [m]
    cup: Cup = USUAL_CUP  # it is mixed in
    rest: float = 0.004  # stays in the mixing cup [kg]
    witness: float | None = None  # poured into a cup of its own [kg]; None: the rest is the witness


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """When what happens to one coat; every time [s since its mixing]."""

    working: float  # the mixing cup is too thick to pour
    gel_mixed: float  # the whole mix would gel, had it stayed in the cup
    gel_rest: float  # the thin rest in the mixing cup gels
    gel_witness: float  # the cup that the maker watches gels
    gel_film: float  # the film on the wall gels
    film_lag: float  # film's gel minus the witness's, either sign [s long]
    next_from: float  # firm: the next coat washes nothing off
    next_to: float  # until here the next coat bonds well
    demold: float  # first opening: cured enough, and cooled to within WARM of the shop
    film_peak: float  # highest temperature of the film [K]
    cup_peak: float  # highest temperature of the mix, had it stayed in the cup [K]


@dataclass(frozen=True, kw_only=True)
class CoatStory:
    """The minutes of a coat with the histories behind them, for plots and the next coat."""

    minutes: Minutes
    mixed: History  # the whole mix, left in its cup
    witness: History  # the cup that the maker watches
    film: SlabHistory  # the film on the wall, from the pour to `film_end`


def coat_story(resin: Resin, mix: Mix, behind: Behind, *, end: float = 7200.0) -> CoatStory:
    """Follow one coat on what lies `behind` it for `end` [s since its mixing]; times beyond are infinite.

    The witness is the poured cup where the mix names one, else the rest in the mixing cup. Takes about a
    millisecond.
    """
    mixed = cup_history(
        resin,
        mix.cup,
        mix.mass,
        temperature=mix.temperature,
        air_temperature=mix.air_temperature,
        end=end,
    )
    rest = rest_history(
        resin,
        mix.cup,
        mixed=mix.mass,
        rest=mix.rest,
        poured_at=mix.poured_at,
        temperature=mix.temperature,
        air_temperature=mix.air_temperature,
        end=end,
    )
    witness = rest if mix.witness is None else _poured(resin, mix, mixed, mix.witness, end)
    conversion, warm = state_at(mixed, mix.poured_at)
    film = slab_history(
        resin,
        mix.coat,
        behind=behind,
        temperature=warm,
        air_temperature=mix.air_temperature,
        conversion=conversion,
        start=mix.poured_at,
        end=end,
    )
    gel_film = gel_time(resin, film.slowest)
    gel_witness = gel_time(resin, witness)
    firm = time_of_conversion(film.slowest, resin.firm_conversion)
    minutes = Minutes(
        working=pot_life(resin, mixed),
        gel_mixed=gel_time(resin, mixed),
        gel_rest=gel_time(resin, rest),
        gel_witness=gel_witness,
        gel_film=gel_film,
        film_lag=_difference(gel_film, gel_witness),
        next_from=firm,
        next_to=max(gel_film + resin.recoat, firm),
        demold=max(time_of_conversion(film.slowest, resin.demold_conversion), _cooled(film, mix)),
        film_peak=float(film.hottest.max()),
        cup_peak=mixed.peak,
    )
    return CoatStory(minutes=minutes, mixed=mixed, witness=witness, film=film)


def stage(resin: Resin, conversion: float, viscosity: float, fresh: float) -> str:
    """The mix's stage in words, from its conversion [-], its viscosity and the fresh mix's [Pa s].

    fresh under twice the fresh mix's viscosity; flowing to the end of the working time; slow to ten times
    that; stringing to gel; gelled till firm; firm till ready to open; then ready.
    """
    if conversion >= resin.demold_conversion:
        return "ready"
    if conversion >= resin.firm_conversion:
        return "firm"
    if conversion >= resin.cure.gel:
        return "gelled"
    if viscosity < min(2.0 * fresh, resin.pot_life_viscosity):
        return "fresh"
    if viscosity < resin.pot_life_viscosity:
        return "flowing"
    return "slow" if viscosity < 10.0 * resin.pot_life_viscosity else "stringing"


def level_deadline(resin: Resin, film: SlabHistory) -> float:
    """Until when the film still runs level [s since mixing]: it is as thick as what ends the pot life."""
    return time_of_viscosity(film.slowest, resin.pot_life_viscosity)


def _poured(resin: Resin, mix: Mix, mixed: History, mass: float, end: float) -> History:
    """A witness cup poured from the mix together with the shot: a small cup, half as wide as the big one."""
    conversion, warm = state_at(mixed, mix.poured_at)
    small = Cup(
        diameter=0.5 * mix.cup.diameter,
        wall=mix.cup.wall,
        wall_conductivity=mix.cup.wall_conductivity,
        wall_heat=mix.cup.wall_heat,
    )
    return cup_history(
        resin,
        small,
        mass,
        temperature=warm,
        air_temperature=mix.air_temperature,
        conversion=conversion,
        start=mix.poured_at,
        end=end,
    )


def _cooled(film: SlabHistory, mix: Mix) -> float:
    """When the film, past its peak, is no more than WARM above the shop [s since mixing]."""
    warm = np.flatnonzero(film.hottest > mix.air_temperature + WARM)
    if len(warm) == 0:
        return float(film.slowest.time[0])
    last = int(warm[-1])
    return math.inf if last + 1 == len(film.hottest) else float(film.slowest.time[last + 1])


def _difference(late: float, early: float) -> float:
    if math.isinf(late) and math.isinf(early):
        return math.nan
    return late - early
