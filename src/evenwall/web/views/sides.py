"""Sides of the piece: the user's names as marks in the 3-D view, and the axis that a tapped side looks along."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from evenwall.files.mesh_scale import upright

REACH: Final = 0.55  # of the longest extent from the middle of the piece's box


def side_marks(vertices: NDArray[np.float64], sides: Mapping[str, Sequence[float]]) -> list[dict[str, Any]]:
    """A mark for each side, off the wall (vertices (n, 3) [m]) in the direction that the user tapped."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    reach = REACH * float((high - low).max())
    marks = []
    for name, way in sides.items():
        direction = np.asarray(way) / (float(np.linalg.norm(way)) or 1.0)
        marks.append({"name": name, "at": list(0.5 * (low + high) + reach * direction), "kind": "side"})
    return marks


def axis_of(way: Sequence[float], *, up: str) -> str:
    """The mesh's axis (x, -y ...) nearest to a direction in the mold, whose z axis is the mesh's axis `up`."""
    along = upright(up).T @ np.asarray(way, dtype=np.float64)
    k = int(np.argmax(np.abs(along)))
    return f"{'-' if along[k] < 0.0 else ''}{'xyz'[k]}"
