"""What goes into a forecast of the film and what comes out of it, as plain frozen data in SI units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenwall.geometry.surface import Surface

Floats = NDArray[np.float64]
FindingKind = Literal[
    "dry",
    "thin",
    "pool",
    "lump",
    "sag",
    "hot",
    "drop",
    "uneven",
    "air",
    "cut off",
    "spun",
    "fold",
    "not gelled",
    "stopped",
]


@dataclass(frozen=True, kw_only=True)
class Rubber:
    """The mold's rubber behind the wall, as the film's heat meets it."""

    conductivity: float = 0.23  # [W/(m K)]
    density: float = 1150.0  # [kg/m3]
    heat_capacity: float = 1300.0  # [J/(kg K)]
    thickness: float = 0.012  # [m]; beyond it the rubber loses heat to the air


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One cup of mixed resin poured into the mold."""

    volume: float  # poured into the mold [m3]
    temperature: float = 296.15  # of the parts when mixed [K]
    mixed_at: float = 0.0  # start of mixing [s from the first shot's mixing]
    pour_after: float = 60.0  # the liquid lies in the turning mold [s from this shot's mixing]


@dataclass(frozen=True, kw_only=True)
class Brushed:
    """A layer brushed on some places before the first shot, which stands in one pose until it gels."""

    marked: Surface  # the piece's wall, on a mesh of its own, mold axes [m]
    marks: Floats  # 1 where the brush goes, 0 where not, (k,) on the marked mesh []
    thickness: float  # that the brush leaves [m]
    temperature: float = 296.15  # of the parts when mixed [K]
    laid_after: float = 120.0  # on the wall and in its pose [s from its mixing]
    frame_angle: float = 0.0  # of the pose [rad]
    cradle_angle: float = 0.0  # of the pose [rad]


@dataclass(frozen=True, kw_only=True, eq=False)
class Cap:
    """Where board or plug close the piece's wall."""

    wall: Surface  # the piece's wall, on a mesh of its own, mold axes [m]
    faces: NDArray[np.int64]  # of that mesh, which the board or plug covers (k,)


@dataclass(frozen=True, kw_only=True)
class Closing:
    """How the mold is shut over its air."""

    opening: float = 0.0  # area that the board or plug covers [m2]; 0: none, the mold's halves meet
    vent: float = 0.0  # area of the hole that lets air out [m2]; 0: airtight
    cap: Cap | None = None  # where the board or plug sits; None: not known
    comes_off: bool = False  # the skin on it does not stay on the casting


@dataclass(frozen=True, kw_only=True)
class Figures:
    """Area-weighted figures of a thickness on the wall."""

    mean: float  # [m]
    p05: float  # a twentieth of the area is thinner [m]
    median: float  # [m]
    p95: float  # a twentieth of the area is thicker [m]
    cv: float  # standard deviation over mean []
    least: float  # lowest mean over any patch of 25 mm2 [m]


@dataclass(frozen=True, kw_only=True)
class Uncertainty:
    """Half-widths of what the meshes and steps leave open in the figures."""

    mean: float  # [m]
    p05: float  # [m]
    median: float  # [m]
    p95: float  # [m]
    cv: float  # []
    least: float  # [m]
    gel_film: float = 0.0  # [s]


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something on the wall that its maker would want to know: what, where, how much, what would help."""

    kind: FindingKind
    at: tuple[float, float, float]  # centre of the place, mold axes [m]
    area: float  # of the place [m2]
    amount: float  # in the kind's unit: thickness [m], temperature [K], force [N], volume [m3], share []
    limit: float  # the number it is held against, same unit
    text: str  # one sentence
    help: str  # the change that would help most, one sentence ("" where none)
    where: str = ""  # the place in words, e.g. "on the face, toward +x"


@dataclass(frozen=True, kw_only=True)
class History:
    """Snapshots of a coat on its way to gel."""

    times: Floats  # (k,) [s from this shot's mixing]
    thickness: NDArray[np.float32]  # (k, n) [m]
    gravity: Floats  # (k, 3) unit vector of gravity in mold axes []
    conversion: Floats  # (k,) volume-weighted mean []
    pool_fraction: Floats  # (k,) share of the liquid that is pool []
    temperature: Floats  # (k,) of the film, mean over the wetted wall [K]


@dataclass(frozen=True, kw_only=True)
class CoatResult:
    """One coat on the wall after it gelled (or when the run was stopped); n nodes of its wall."""

    shot: Shot
    surface: Surface  # the wall that this coat covers (the piece's, or the coat before), mold axes [m]
    thickness: Floats  # (n,) along the wall's normal [m]
    volume: Floats  # (n,) liquid volume per wall area [m]
    node_area: Floats  # (n,) wall area that a node stands for [m2]
    conversion: Floats  # (n,) []
    temperature: Floats  # (n,) of the film at the end [K]
    peak_temperature: Floats  # (n,) highest film temperature on the way [K]
    gel_time: Floats  # (n,) [s from this shot's mixing], inf where it has not gelled
    wetted: Floats  # (n,) first wetted [s from this shot's mixing], inf where it stayed dry
    rubber_temperature: Floats  # (n, cells) in the rubber, wall first [K]
    figures: Figures  # from two meshes where a second one was run, see `results.settled`
    uncertainty: Uncertainty
    findings: tuple[Finding, ...]
    gel_film: float  # half the covered area has gelled [s from mixing]; inf where it has not
    turn_until: float  # all but 0.1 % of the liquid has gelled, or the run's end [s from mixing]
    pool_fraction: float  # share of the shot that gelled as pool []
    dry_fraction: float  # share of the area that stays on the casting left under 0.05 mm []
    peak: float  # highest temperature anywhere in the coat [K]
    lump: bool  # a pool gelled in one piece
    air_pressure: float  # highest of the shut-in air above the room's [Pa]
    air_push: float  # what it pushes the closing with at most [N]
    volume_error: float  # |liquid on the wall / shot - 1| []
    centrifugal_ratio: float  # largest w2 r / g met during the coat []
    steps: int
    elapsed: float  # computing time [s]
    history: History
    coarse_until: float  # a coarser mesh carried the coat up to here [s from mixing]; 0 where full history


@dataclass(frozen=True, kw_only=True)
class FilmForecast:
    """What the wall will be, coat by coat and in sum; all per-node arrays on `wall`'s nodes."""

    wall: Surface  # the piece's wall as computed on (n nodes), mold axes [m]
    node_area: Floats  # (n,) [m2]
    kept_area: (
        Floats  # (n,) the same, zero where the skin comes off with board or plug; figures go by it [m2]
    )
    coats: tuple[CoatResult, ...]
    coat_thickness: Floats  # (coats, n) each coat, brought to the wall's nodes [m]
    brush: CoatResult | None  # the brushed-on layer at its gel, on `wall`'s nodes; None where there is none
    total: Floats  # (n,) thickness of the brushed layer and all coats along the wall's normal [m]
    figures: Figures  # of `total`, from two meshes where a second one was run, see `settled`
    uncertainty: Uncertainty  # of `figures`
    findings: tuple[Finding, ...]  # on the whole wall: places under the least that is wanted
    volume_error: float  # relative difference of coats' volume and shots' volume, worst coat []
    enclosed_error: float  # relative difference of coats' volume and the volume under their thickness []
    steps: int
    elapsed: float  # computing time [s]
    nodes: int
    history: Literal["full", "coarse start", "spun"]  # spun: the equilibrium surface, no film
    history_reason: str  # why the program went that way, one sentence
    stopped: bool  # the run was stopped by the user; what was computed is kept
    assumptions: tuple[str, ...]  # what the forecast takes for granted, one sentence each
