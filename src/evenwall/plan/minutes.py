"""The minutes of a casting: when to pour, how long to turn, when the next coat, when to open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from evenwall.errors import PlanError
from evenwall.film.state import Rubber
from evenwall.resin.data import Resin
from evenwall.resin.heat import Behind, SlabHistory, bare_rubber, coated, slab_history
from evenwall.resin.history import History, state_at, time_of_conversion, time_of_viscosity
from evenwall.resin.witness import Cup, cup_history, rest_history

LEVEL_SHARE: Final = 0.85  # a warm mold must leave a coat this share of the first coat's flowing time
WAITS: Final = (
    0.0,
    120.0,
    240.0,
    360.0,
    480.0,
    720.0,
    960.0,
    1200.0,
    1500.0,
)  # waits after firm that are tried [s]
HORIZON: Final = 14_400.0  # longest time looked at [s]


@dataclass(frozen=True, kw_only=True)
class Hands:
    """How long each step takes these hands [s]."""

    stir: float
    pour: float
    close: float

    @property
    def start(self) -> float:
        """From the start of mixing until the mold is closed and turns [s]."""
        return self.stir + self.pour + self.close


@dataclass(frozen=True, kw_only=True)
class Warmth:
    """Temperatures today [K]."""

    air: float
    resin: float
    mold: float


@dataclass(frozen=True, kw_only=True)
class CoatMinutes:
    """The times of one coat, from its own mixing but for the first."""

    mixed_at: float  # start of mixing [s from the first shot's mixing]
    working_time: float  # the mix in its cup is too thick to pour [s]
    pour_within: float  # poured by then, there is still time to close and wet the wall [s]
    gel_cup: float  # what stays in the mixing cup gels [s]
    gel_film: float  # the film on the wall gels [s]
    next_from: float  # the next coat may be poured from here [s]
    next_until: float  # and bonds well until here [s]
    film: History  # of the film from the pour


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """The times of a casting."""

    coats: tuple[CoatMinutes, ...]
    open_after: float  # first opening, from the last coat's mixing [s]


def casting_minutes(
    resin: Resin,
    coats: Sequence[float],
    masses: Sequence[float],
    *,
    rests: Sequence[float],
    rubber: Rubber,
    warmth: Warmth,
    hands: Hands,
) -> Minutes:
    """Times of coats of the given mean thickness [m], mixed [kg] and left in the cup [kg] each.

    Film and rubber are a slab that is insulated on its free side; the rubber keeps its warmth from coat to
    coat. Raises PlanError where a mix is too thick before it is poured and closed in.
    """
    found: list[CoatMinutes] = []
    back = bare_rubber(rubber, warmth.mold)
    mixed_at, first_flow = 0.0, math.inf
    for k, (thickness, mass, rest) in enumerate(zip(coats, masses, rests, strict=True)):
        cup = cup_history(
            resin, Cup(), mass, temperature=warmth.resin, air_temperature=warmth.air, end=3600.0
        )
        working = time_of_viscosity(cup, resin.pot_life_viscosity)
        _check_time(k, len(coats), working, hands)
        conversion, warm = state_at(cup, hands.start)
        film = _film(resin, thickness, back, warm, warmth.air, conversion, hands.start).slowest
        gel = time_of_conversion(film, resin.cure.gel)
        firm = time_of_conversion(film, resin.firm_conversion)
        if not math.isfinite(firm):
            raise PlanError(
                f"coat {k + 1} of {len(coats)} does not set within {HORIZON / 3600:.0f} h at "
                f"{warmth.mold - 273.15:.0f} °C: warm the mold or take a faster resin"
            )
        first_flow = min(first_flow, gel - hands.start)
        wait, back = _wait(resin, thickness, back, warmth, cup, hands, firm, first_flow)
        left = rest_history(
            resin,
            Cup(tilted=True),
            mixed=mass,
            rest=rest,
            poured_at=hands.stir + hands.pour,
            temperature=warmth.resin,
            air_temperature=warmth.air,
            end=HORIZON,
        )
        found.append(
            CoatMinutes(
                mixed_at=mixed_at,
                working_time=working,
                pour_within=working - hands.close,
                gel_cup=time_of_conversion(left, resin.cure.gel),
                gel_film=gel,
                next_from=wait,
                next_until=max(wait, gel + resin.recoat),
                film=film,
            )
        )
        mixed_at += max(wait - hands.stir - hands.pour, gel)
    last = found[-1].film
    return Minutes(coats=tuple(found), open_after=time_of_conversion(last, resin.demold_conversion))


def _check_time(k: int, count: int, working: float, hands: Hands) -> None:
    if working <= hands.start:
        raise PlanError(
            f"shot {k + 1} of {count} can't be poured in time: stirring, pouring and closing take "
            f"{hands.start:.0f} s and the mix is thick after {working:.0f} s: cool the resin, take a slower "
            "one, make smaller shots or have a second pair of hands close the mold"
        )


def _film(
    resin: Resin,
    thickness: float,
    back: Behind,
    warm: float,
    air: float,
    conversion: float,
    start: float,
    end: float = HORIZON,
) -> SlabHistory:
    return slab_history(
        resin,
        thickness,
        behind=back,
        temperature=warm,
        air_temperature=air,
        conversion=conversion,
        start=start,
        end=end,
    )


def _wait(
    resin: Resin,
    thickness: float,
    back: Behind,
    warmth: Warmth,
    cup: History,
    hands: Hands,
    firm: float,
    first_flow: float,
) -> tuple[float, Behind]:
    """The earliest pour [s] at which the next coat still levels, and what lies behind it then."""
    conversion, warm = state_at(cup, hands.start)
    for extra in WAITS:
        pour = firm + extra
        end = max(pour, hands.start + 1.0)
        then = _film(resin, thickness, back, warm, warmth.air, conversion, hands.start, end)
        behind = coated(back, resin, thickness, then.temperature)
        trial = _film(resin, thickness, behind, warm, warmth.air, conversion, hands.start).slowest
        if time_of_conversion(trial, resin.cure.gel) - hands.start >= LEVEL_SHARE * first_flow:
            break
    return pour, behind
