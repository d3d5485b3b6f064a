"""Area, volume, centroid and inertia of a closed surface, by the divergence theorem."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenwall.geometry.surface import FloatArray, Surface, face_areas


@dataclass(frozen=True, kw_only=True)
class Measures:
    """Size and mass properties of the piece as one solid of density 1."""

    area: float  # wall area [m2]
    volume: float  # enclosed volume, negative where the faces look inwards [m3]
    centroid: FloatArray  # centre of the enclosed volume, (3,) [m]
    inertia: FloatArray  # inertia tensor about the centroid at density 1, (3, 3) [m5]
    extents: FloatArray  # size of the box along the mold axes, (3,) [m]


def area(surface: Surface) -> float:
    """Wall area: the sum of the face areas [m2]."""
    return float(face_areas(surface).sum())


def volume(surface: Surface) -> float:
    """Enclosed volume V = (1/6) sum det(a, b, c) of a closed surface [m3].

    Source: Mirtich 1996, journal of graphics tools 1(2) 31-50. Computed about the middle of the
    box, so that a piece far from the origin loses no digits.
    """
    corner = (surface.vertices - _middle(surface.vertices))[surface.faces]
    return float(np.linalg.det(corner).sum() / 6.0)


def measures(surface: Surface) -> Measures:
    """Area [m2], volume [m3], centroid [m], inertia [m5] and extents [m] of a closed surface.

    With det = det(a, b, c) of each face's corners: V = sum det / 6, centroid =
    sum det (a + b + c) / (24 V), and the second moments of the tetrahedron (0, a, b, c) are
    (det/120) [s_i s_j + a_i a_j + b_i b_j + c_i c_j] with s = a + b + c.
    Source: Mirtich 1996, journal of graphics tools 1(2) 31-50.
    """
    middle = _middle(surface.vertices)
    corner = (surface.vertices - middle)[surface.faces]
    determinant = np.linalg.det(corner)
    total = float(determinant.sum() / 6.0)
    extents = np.ptp(surface.vertices, axis=0)
    if total == 0.0:
        return Measures(
            area=area(surface), volume=0.0, centroid=middle, inertia=np.zeros((3, 3)), extents=extents
        )
    corner_sum = corner.sum(axis=1)
    offset = np.einsum("f,fi->i", determinant, corner_sum) / (24.0 * total)
    moment = np.einsum("f,fi,fj->ij", determinant, corner_sum, corner_sum)
    moment += np.einsum("f,fvi,fvj->ij", determinant, corner, corner)
    moment = moment / 120.0 - total * np.outer(offset, offset)
    inertia = np.trace(moment) * np.eye(3) - moment
    return Measures(
        area=area(surface), volume=total, centroid=middle + offset, inertia=inertia, extents=extents
    )


def principal_extents(surface: Surface) -> FloatArray:
    """Extents along the principal axes of inertia, longest first: (3,) [m], the same after a rotation."""
    _, axes = np.linalg.eigh(measures(surface).inertia)
    return np.asarray(np.sort(np.ptp(surface.vertices @ axes, axis=0))[::-1])


def _middle(vertices: FloatArray) -> FloatArray:
    """Middle of the bounding box (3,) [m]."""
    return np.asarray(0.5 * (vertices.min(axis=0) + vertices.max(axis=0)))
