"""The closed surface of a field of depths on a regular grid, for shapes given by formula."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from evenwall.errors import MeshError
from evenwall.geometry.surface import FloatArray, Surface


def surface_of_samples(depth: FloatArray, *, origin: npt.ArrayLike, spacing: float) -> Surface:
    """The closed surface where `depth` (positive inside) passes zero, by marching cubes.

    depth: samples on a regular grid, (nx, ny, nz) [any unit that is zero on the wall].
    origin: position of the first sample, (3,) [m]; spacing: distance of the samples [m].
    A body that reaches the edge of the grid is closed flat there.
    Source: Lewiner et al. 2003, journal of graphics tools 8(2) 1-15, as scikit-image has it.
    """
    from skimage.measure import marching_cubes

    padded = np.pad(depth, 1, constant_values=min(-abs(float(spacing)), float(depth.min())))
    small = 1e-3 * spacing
    padded = np.where(np.abs(padded) < small, np.where(padded < 0.0, -small, small), padded)
    if not padded.max() > 0.0:
        raise MeshError("the field has no point inside the piece: take a finer spacing")
    vertices, faces, _, _ = marching_cubes(padded, 0.0, allow_degenerate=False)  # type: ignore[no-untyped-call]
    start = np.asarray(origin, dtype=np.float64) - spacing
    return Surface(start + spacing * vertices.astype(np.float64), faces[:, ::-1].astype(np.int64))
