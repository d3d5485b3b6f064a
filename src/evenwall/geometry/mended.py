"""The account of a mended mesh: what was found, chosen and done; and the same at another size or turned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from evenwall.geometry.bodies import Body
from evenwall.geometry.repair import Repair
from evenwall.geometry.surface import FloatArray, IntArray, Surface, transformed

OpeningRole = Literal["base counts", "trimmed", "pour hole"]
Triple = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What only the maker can decide; each has a default that is said."""

    refused: frozenset[str] = frozenset()  # names of repairs to leave out
    rebuild: Literal["if needed", "always"] = "if needed"  # build the wall anew from distances
    bodies: Literal["largest", "all"] = "largest"  # separate bodies
    inner: Literal["drop", "keep"] = "drop"  # bodies and voids wholly inside
    crossing: Literal["unite", "keep"] = "unite"  # bodies that cross or lie on each other
    halves: Literal["join", "separate"] = "join"  # open parts whose rims face each other
    opening: OpeningRole = "base counts"  # wide openings
    openings: Mapping[int, OpeningRole] = field(default_factory=dict)  # single ones, counted from 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Opening:
    """A wide opening, closed by a cap of triangles."""

    role: OpeningRole  # what the cap is to the casting
    faces: IntArray  # faces of the cap in the surface, (k,)
    edges: int  # edges of the rim
    span: float  # greatest width [m]
    area: float  # of the cap [m2]
    unevenness: float  # greatest distance of the rim from its mean plane [m]
    middle: FloatArray  # (3,) [m]
    normal: FloatArray  # out of the piece, unit length, (3,)


@dataclass(frozen=True, kw_only=True)
class CrossingSkins:
    """Where skins cross, or lie on each other."""

    faces: int  # faces that cross another one; 0 where bodies only lie on each other
    between_bodies: bool  # True: several bodies; False: one body crosses itself
    united: bool  # the bodies were made one
    complete: bool  # False: the search was given up, there may be more
    share: float  # of the area that crosses []
    middle: Triple  # middle of the crossing faces [m]
    span: float  # diagonal of the box round them [m]


@dataclass(frozen=True, kw_only=True)
class Halves:
    """Two open parts whose rims face each other."""

    gap: float  # mean distance of their rims [m]
    span: float  # width of the rim [m]
    middle: Triple  # between the rims [m]
    joined: bool  # they were made one


@dataclass(frozen=True, kw_only=True)
class Anew:
    """The wall was built anew from distances."""

    why: str  # the end of a sentence: "the skin crosses itself"
    spacing: float  # detail finer than this is lost [m]
    lost_p95: float  # 95 % of the scan's outer skin lies nearer than this to the wall [m]
    closed_over: float  # area of the wall that closes openings of the skin [m2]


@dataclass(frozen=True, kw_only=True, eq=False)
class Mended:
    """The closed surface and the account of how it came about."""

    surface: Surface  # [m]
    repairs: tuple[Repair, ...]
    openings: tuple[Opening, ...]
    bodies: tuple[Body, ...]  # as found, the piece first
    crossing: CrossingSkins | None
    halves: Halves | None
    anew: Anew | None  # None where the wall is the scan's own
    fill_area: tuple[float, float]  # what filled holes may add to the area [m2], low <= 0 <= high
    fill_volume: tuple[float, float]  # the same for the volume [m3]
    open_edges: int  # after welding and dropping, before anything was filled
    touching_edges: int  # edges that more than two faces share in the end
    closed: bool  # the surface is closed; False only where a repair was refused


def mended_at(mended: Mended, factor: float, *, turn: FloatArray | None = None) -> Mended:
    """`mended` turned by the rotation `turn` (3, 3) and with all lengths multiplied by `factor` (no unit).

    Areas and volumes go with its powers.
    """
    rotation = np.eye(3) if turn is None else turn
    square, cube = factor**2, factor**3

    def moved(point: Triple) -> Triple:
        x, y, z = (factor * (rotation @ np.asarray(point))).tolist()
        return x, y, z

    crossing, halves, anew = mended.crossing, mended.halves, mended.anew
    return replace(
        mended,
        surface=transformed(mended.surface, factor * rotation),
        repairs=tuple(
            replace(
                r,
                area_change=r.area_change * square,
                volume_change=r.volume_change * cube,
                middle=moved(r.middle),
                span=r.span * factor,
            )
            for r in mended.repairs
        ),
        openings=tuple(
            replace(
                o,
                span=o.span * factor,
                area=o.area * square,
                unevenness=o.unevenness * factor,
                middle=factor * (rotation @ o.middle),
                normal=rotation @ o.normal,
            )
            for o in mended.openings
        ),
        bodies=tuple(
            replace(
                b,
                volume=b.volume * cube,
                area=b.area * square,
                middle=moved(b.middle),
                span=b.span * factor,
            )
            for b in mended.bodies
        ),
        crossing=crossing and replace(crossing, middle=moved(crossing.middle), span=crossing.span * factor),
        halves=halves
        and replace(halves, gap=halves.gap * factor, span=halves.span * factor, middle=moved(halves.middle)),
        anew=anew
        and replace(
            anew,
            spacing=anew.spacing * factor,
            lost_p95=anew.lost_p95 * factor,
            closed_over=anew.closed_over * square,
        ),
        fill_area=(mended.fill_area[0] * square, mended.fill_area[1] * square),
        fill_volume=(mended.fill_volume[0] * cube, mended.fill_volume[1] * cube),
    )
