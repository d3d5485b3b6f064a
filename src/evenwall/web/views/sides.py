"""The user's named sides as marks round the piece in the 3-D view."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

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
