"""Shrink allowance: how large the mold's cavity is, compared with what was scanned."""

from __future__ import annotations

from typing import Literal

from evenwall.errors import InputError

ScanOf = Literal["master", "casting", "cavity"]


def cavity_factor(scan_of: ScanOf, *, mold_shrinkage: float, resin_shrinkage: float) -> float:
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
