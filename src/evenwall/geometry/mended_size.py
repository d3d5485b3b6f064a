"""The account of a mended mesh at another size."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from evenwall.errors import InputError
from evenwall.geometry.mend import Mended
from evenwall.geometry.surface import scaled

Triple = tuple[float, float, float]


def mended_at(mended: Mended, factor: float) -> Mended:
    """`mended` with all lengths multiplied by `factor` (no unit), areas and volumes with its powers."""
    if factor == 1.0:
        return mended
    square, cube = factor**2, factor**3

    def moved(point: Triple) -> Triple:
        return (point[0] * factor, point[1] * factor, point[2] * factor)

    crossing = mended.crossing
    return replace(
        mended,
        surface=scaled(mended.surface, factor),
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
                middle=o.middle * factor,
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
    )


def cavity_factor(
    scan_of: Literal["master", "casting", "cavity"], *, mold_shrinkage: float, resin_shrinkage: float
) -> float:
    """Lengths of the mold's cavity over lengths of what was scanned (no unit).

    The shrinkages are linear shares, e.g. 0.003 for 0.3 %, valid from 0 to 0.1: a mold of a master is
    (1 - mold_shrinkage) of it, a casting is (1 - resin_shrinkage) of its cavity.
    Example: cavity_factor("casting", mold_shrinkage=0.0, resin_shrinkage=0.01) = 1.0101.
    Source: the pattern maker's contraction allowance (common practice, no source).
    """
    for name, share in (("mold", mold_shrinkage), ("resin", resin_shrinkage)):
        if not 0.0 <= share <= 0.1:
            raise InputError(
                f"{name} shrinkage {share:g} is not within 0 and 0.1: give it as a share, 0.3 % as 0.003"
            )
    if scan_of == "master":
        return 1.0 - mold_shrinkage
    return 1.0 / (1.0 - resin_shrinkage) if scan_of == "casting" else 1.0
