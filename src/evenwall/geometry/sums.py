"""Sums over a whole surface that come out the same to the last bit, whatever the machine does beside them.

BLAS parts a long dot product among its threads, so a @ b depends on how many there are; a film that sloshes makes
half a percent of its figures out of the last bit.
"""

from __future__ import annotations

import numpy as np

from evenwall.geometry.surface import FloatArray


def dot(a: FloatArray, b: FloatArray) -> float:
    """Sum of a b, two fields of one shape; numpy adds them pairwise, on one thread."""
    return float(np.sum(a * b))


def along(points: FloatArray, direction: FloatArray) -> FloatArray:
    """Length (n,) of `points` (n, 3) along a `direction` (3,)."""
    return np.asarray(points[:, 0] * direction[0] + points[:, 1] * direction[1] + points[:, 2] * direction[2])
