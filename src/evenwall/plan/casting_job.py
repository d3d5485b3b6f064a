"""A job as data: the piece, its mold, the shop today, the turning and the wall that is wanted; SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from evenwall.film.state import Cap, Floats, Rubber
from evenwall.geometry.surface import Surface
from evenwall.plan.costs import Prices
from evenwall.plan.shots import WallWish
from evenwall.plan.weighout import MixingCup
from evenwall.resin.data import Resin
from evenwall.resin.today import IN_THE_CUP, Witness

Opening = Literal["closed", "base counts", "trimmed", "pour hole"]


@dataclass(frozen=True, kw_only=True)
class Piece:
    """The piece to be cast, as the wall of its mold's cavity."""

    surface: Surface  # closed, mold axes [m]
    stand_in: bool = False  # no scan: a shape of the same area, volume and slenderness
    area_band: tuple[float, float]  # what the area may be [m2]
    volume_band: tuple[float, float]  # what the volume may be [m3]
    opening: Opening = "closed"  # what the scan's widest opening is to the casting
    opening_area: float = 0.0  # of all of the scan's wide openings [m2]
    cap: Cap | None = None  # where they were closed; None: the scan has none, so a board's place is not known
    sides: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)  # user's names, mold axes


@dataclass(frozen=True, kw_only=True)
class Mold:
    """The mold round the cavity."""

    rubber: Rubber = Rubber()
    heat_limit: float = 453.15  # temperature that the rubber stands [K]
    opening: Opening = "closed"
    opening_area: float = 0.0  # covered by the board or plug [m2]
    sealed: bool = True  # closed airtight, no vent


@dataclass(frozen=True, kw_only=True)
class Shop:
    """The shop today."""

    air: float = 295.15  # temperature of the air [K]
    resin: float = 295.15  # of the jugs [K]
    mold: float = 295.15  # of the mold [K]
    humidity: float = 0.45  # relative humidity of the air []
    scale_step: float = 1e-4  # smallest step of the scale [kg]
    cups: tuple[float, ...] = (1e-4, 2.5e-4, 5e-4, 1e-3)  # brimful volumes of the cups at hand [m3]
    stir: float = 45.0  # time to stir a shot [s]
    pour: float = 20.0  # time to pour it [s]
    close: float = 30.0  # time to close the mold [s]
    wet: float = 40.0  # turning until the whole wall is wetted [s] (common practice, no source)
    brush: float = 120.0  # time to brush the narrow places [s]
    hands: int = 1  # people at the machine
    witness: Witness = IN_THE_CUP  # what the maker watches in place of the film
    volume_cup: MixingCup | None = None  # the cup with marks, should the scale fail


@dataclass(frozen=True, kw_only=True)
class Turning:
    """How the machine is turned."""

    pattern: Literal["hand", "constant"] = "hand"
    frame_rate: float = 1.05  # [rad/s]
    cradle_rate: float = 0.84  # [rad/s]
    stop_after: float | None = None  # turning stops so long after mixing [s]; None: at gel


@dataclass(frozen=True, kw_only=True)
class Job:
    """Everything that a plan and a forecast follow from, SI."""

    name: str
    piece: Piece
    resin: Resin
    wish: WallWish
    mold: Mold = Mold()
    shop: Shop = Shop()
    turning: Turning = Turning()
    crossing: Floats  # where the two axes cross, mold axes [m], shape (3,)
    prices: Prices
    pigment: float = 0.0  # share of part B by weight []
    tinted_coats: int | None = None  # so many coats from the outside are tinted; None: all
    brush: bool = True  # brush the narrow places first
    cleaning_shot: bool = False  # start with a small sacrificial shot
