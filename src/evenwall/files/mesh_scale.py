"""How large a mesh is, and which way up: by its unit, a height, or a distance measured between two points."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from evenwall.errors import InputError
from evenwall.files.mesh_questions import LENGTHS
from evenwall.geometry.surface import FloatArray, Surface, bounds
from evenwall.units import to_si

UnitFrom = Literal["said", "file", "height", "distance"]
Point = tuple[float, float, float]
Distance = tuple[Point, Point, float]  # two points in the file's numbers, and what was measured [m]

#: the rotation that takes each axis to z; a quarter or half turn
_UPRIGHT: Final = {
    "z": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "-z": ((1, 0, 0), (0, -1, 0), (0, 0, -1)),
    "y": ((1, 0, 0), (0, 0, -1), (0, 1, 0)),
    "-y": ((1, 0, 0), (0, 0, 1), (0, -1, 0)),
    "x": ((0, 0, -1), (0, 1, 0), (1, 0, 0)),
    "-x": ((0, 0, 1), (0, 1, 0), (-1, 0, 0)),
}
AXES: Final = tuple(_UPRIGHT)


def upright(up: str) -> FloatArray:
    """The rotation (3, 3) that turns the axis `up` ("y", "-x", ...) to z."""
    return np.array(_UPRIGHT[up.lstrip("+")], dtype=np.float64)


def check_scale(
    *, unit: str | None, height: float | None, up: str | None, distance: Distance | None, factor: float
) -> None:
    """Raise InputError where a unit, axis, length or factor can't be one."""
    if unit is not None and unit not in LENGTHS:
        raise InputError(f"unit {unit!r} is no length that is known here: use one of {', '.join(LENGTHS)}")
    if up is not None and up.lstrip("+") not in _UPRIGHT:
        raise InputError(f"up {up!r} is no axis: use x, y, z, -x, -y or -z")
    if height is not None and distance is not None:
        raise InputError("both a height and a distance are given: the scale needs only one of them")
    for name, value in (("height", height), ("distance", distance and distance[2])):
        if value is not None and not 1e-4 <= value <= 100.0:
            raise InputError(f"a {name} of {value:g} m is not within 0.1 mm and 100 m: check the number")
    if distance is not None and not np.isfinite(np.array(distance[:2], dtype=np.float64)).all():
        raise InputError(f"the points {distance[0]} and {distance[1]} are no places: give x, y and z of both")
    if not 0.5 <= factor <= 2.0:
        raise InputError(f"factor {factor:g} is not within 0.5 and 2: a shrink allowance is close to 1")


def scale_of(
    surface: Surface,
    *,
    unit: str | None,
    said: bool,
    height: float | None,
    up: str | None,
    distance: Distance | None,
) -> tuple[float, UnitFrom]:
    """Metres per number of the file, and what gave it; a measured length goes before the unit.

    `unit`: of the file's numbers, `said` by the user or else by the file's own field.
    """
    extents = np.ptp(bounds(surface), axis=0)
    if height is not None:
        if up is None:
            raise InputError("a height is given without its axis: say which axis is up (--up z)")
        return height / float(extents["xyz".index(up.lstrip("+-"))]), "height"
    if distance is not None:
        a, b, measured = distance
        apart = float(np.linalg.norm(np.subtract(a, b)))
        if not apart > 1e-6 * float(extents.max()):
            raise InputError("the two picked points are the same: pick two that lie apart")
        return measured / apart, "distance"
    if unit is None:
        raise InputError("the unit of the mesh is not said: say it (--unit mm)")
    return to_si(1.0, unit), "said" if said else "file"
