"""Today's minutes of one coat: what the mixing cup, the maker's witness and the film on the wall do."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind, SlabHistory, slab_history
from evenwall.resin.history import History, state_at, time_of_conversion, time_of_viscosity, viscosities
from evenwall.resin.witness import Cup, cup_history, gel_time, pot_life, rest_history

USUAL_CUP: Final = Cup()
WARM: Final = 8.0  # a wall so much warmer than the shop is still soft [K], assumed
THIN_LAYER: Final = 1.5e-3  # of a few grams in a lid [m], assumed
SMALL: Final = 0.5  # a poured witness cup is so much narrower than the mixing cup [-], assumed
GRAVITY: Final = 9.81  # [m/s2]


@dataclass(frozen=True, kw_only=True)
class Witness:
    """What the maker watches in place of the film."""

    kind: Literal["rest", "thin", "poured"] = (
        "rest"  # in the mixing cup; in a thin layer; in a cup of its own
    )
    mass: float = 0.0  # poured off for it [kg]; a rest is what stays in the cup


IN_THE_CUP: Final = Witness()


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
    witness: Witness = IN_THE_CUP  # what the maker watches


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """When what happens to one coat; every time [s since its mixing]."""

    working: float  # the mixing cup is too thick to pour
    gel_mixed: float  # the whole mix would gel, had it stayed in the cup
    gel_rest: float  # the thin rest in the mixing cup gels
    gel_witness: float  # the cup that the maker watches gels
    gel_film: float  # the film on the wall gels
    film_lag: float  # film's gel minus the witness's, either sign [s long]
    runs_on: float  # how far the film runs down an upright wall if turning stops with the witness [m]
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

    Takes about a millisecond.
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
    witness = rest if mix.witness.kind == "rest" else _poured(resin, mix, mixed, end)
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
        runs_on=run_down(resin, film.slowest, mix.coat, after=gel_witness),
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


def run_down(resin: Resin, film: History, thickness: float, *, after: float) -> float:
    """How far [m] a film of `thickness` [m] on an upright wall runs from `after` [s] till it gels.

    Its mean speed is density g thickness^2 / (3 viscosity): Nusselt, Z. VDI 60 (1916) 541, valid for a wide, even
    and slow film. Example: 1 mm of glycerol (1260 kg/m3, 0.93 Pa s) runs 4.4 mm in a second.
    """
    if not math.isfinite(after) or after >= film.time[-1]:
        return 0.0
    time = np.concatenate([[max(after, film.time[0])], film.time[film.time > after]])
    thick = viscosities(
        np.interp(time, film.time, film.conversion), np.interp(time, film.time, film.temperature), film.law
    )
    return float(np.trapezoid(resin.density * GRAVITY * thickness**2 / (3.0 * thick), time))


def _poured(resin: Resin, mix: Mix, mixed: History, end: float) -> History:
    """The witness poured off together with the shot: into a small cup, or into a lid where it lies thin."""
    conversion, warm = state_at(mixed, mix.poured_at)
    lid = math.sqrt(mix.witness.mass / resin.density / THIN_LAYER / (0.25 * math.pi))
    return cup_history(
        resin,
        replace(mix.cup, diameter=lid if mix.witness.kind == "thin" else SMALL * mix.cup.diameter),
        mix.witness.mass,
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
