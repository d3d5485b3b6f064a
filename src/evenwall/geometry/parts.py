"""Points cut into equally many that lie near each other, half by half."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from evenwall.geometry.surface import FloatArray

Indices = NDArray[np.int64]
TURNS: Final = 4  # parts that take turns


def equal_parts(features: FloatArray, count: int) -> list[Indices]:
    """Numbers of the points in each of `count` parts, a power of two; features (n, k) are where the points are.

    No part has two points more than another. Four that follow each other lie near each other and take turns, so that
    what every fourth or every second part covers lies all over.
    """
    parts = [np.arange(len(features))]
    while len(parts) < count:
        parts = [half for part in parts for half in _halves(part, features)]
    if count < TURNS:
        return parts
    return [parts[p - p % TURNS + (p + p // TURNS) % TURNS] for p in range(count)]


def _halves(part: Indices, features: FloatArray) -> tuple[Indices, Indices]:
    """A part cut in two across its longest extent."""
    along = features[part, np.argmax(np.ptp(features[part], axis=0))]
    order = np.argsort(along, kind="stable")
    return part[order[: len(part) // 2]], part[order[len(part) // 2 :]]
