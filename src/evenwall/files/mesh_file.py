"""A mesh file of any kind becomes a closed surface with an account of it, or one clear sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

import numpy as np

from evenwall.errors import InputError, MeshError
from evenwall.files.glb_format import parse_glb
from evenwall.files.mesh_bytes import read_bytes
from evenwall.files.mesh_checks import RawMesh, check_raw
from evenwall.files.mesh_questions import (
    LENGTHS,
    Question,
    choices_of,
    questions_of,
    size_question,
    warnings_of,
)
from evenwall.files.obj_format import parse_obj
from evenwall.files.ply_format import parse_ply
from evenwall.files.stl_format import parse_stl
from evenwall.files.threemf_format import parse_3mf
from evenwall.geometry.bodies import Body
from evenwall.geometry.mend import mend
from evenwall.geometry.mended import Anew, CrossingSkins, Halves, Mended, Opening, mended_at
from evenwall.geometry.repair import Repair, welded
from evenwall.geometry.surface import Surface, bounds
from evenwall.units import to_si

UnitFrom = Literal["said", "file", "height", "distance"]
Point = tuple[float, float, float]
_PARSERS: Final = {"STL": parse_stl, "OBJ": parse_obj, "PLY": parse_ply, "3MF": parse_3mf, "GLB": parse_glb}


@dataclass(frozen=True, kw_only=True, eq=False)
class MeshReading:
    """A mesh file as a closed surface, and everything that was done or is to be asked."""

    surface: Surface  # closed, outward [m]
    kind: str  # format of the file, e.g. "binary STL"
    unit: str | None  # length unit of the file's numbers; None where a height or distance gave the scale
    unit_from: UnitFrom  # said by the user, the file's standard field, or a measured length
    metres_per_number: float  # scale from the file's numbers [m]
    up: str | None  # axis that is up, as said or by the file's standard
    faces_read: int  # triangles in the file
    open_edges: int  # edges of one face only, before anything was filled
    watertight: bool  # closed as it came, once equal vertices are joined
    closed: bool  # the surface is closed; False only where a repair was refused
    bodies: tuple[Body, ...]  # as found, the piece first
    openings: tuple[Opening, ...]  # wide openings and the faces that cap them
    crossing: CrossingSkins | None  # where skins cross
    repairs: tuple[Repair, ...]  # in the order they were done
    questions: tuple[Question, ...]  # what only the maker can decide, with the answer taken
    warnings: tuple[str, ...]  # sentences
    size_question: str | None  # asks about an odd size, changes nothing


def read_mesh(
    path: str | Path,
    *,
    unit: str | None = None,
    height: float | None = None,
    up: str | None = None,
    distance: tuple[Point, Point, float] | None = None,
    factor: float = 1.0,
    answers: Mapping[str, str] | None = None,
    refused: frozenset[str] = frozenset(),
) -> MeshReading:
    """Read, check and mend a mesh file.

    unit: of the file's numbers ("mm", "in", ...), needed where the format has no field for it.
    height: wanted extent along the axis `up` ("x", "y", "z", "-x", ...) [m]; gives the scale instead of a
    unit. distance: two points in the file's numbers and the distance measured between them [m]; the same.
    factor: on all lengths at the end, e.g. a shrink allowance (no unit).
    answers: to questions, by name; refused: names of repairs to leave out.
    Raises MeshError for a file that can't be a piece, InputError where unit or axis is missing or odd.
    """
    file = Path(path)
    choices = choices_of(dict(answers or {}), refused)
    _check_scale(unit, height, up, distance, factor)
    data, kind = read_bytes(file)
    raw = check_raw(_PARSERS[kind](data, file.name), file.name)
    del data
    said = unit or raw.unit
    if said is None and height is None and distance is None:
        raise InputError(
            f"{file.name}: {raw.kind} has no field for the unit and its numbers reach {_reach(raw):.4g}: "
            "say the unit (--unit mm) or the height (--height-mm 150 --up z)"
        )
    up = up or raw.up
    surface = Surface(raw.vertices, raw.faces)
    try:
        mended = mend(surface if raw.shares_vertices else welded(surface), choices)
    except MeshError as error:
        raise MeshError(f"{file.name}: {error}") from None
    scale, unit_from = _scale(mended, said, unit, height, up, distance)
    mended = mended_at(mended, scale * factor)
    extents = np.ptp(bounds(mended.surface), axis=0)
    used = said if unit_from in ("said", "file") else None
    return MeshReading(
        surface=mended.surface,
        kind=raw.kind,
        unit=used,
        unit_from=unit_from,
        metres_per_number=scale * factor,
        up=up,
        faces_read=len(raw.faces),
        open_edges=mended.open_edges,
        watertight=mended.closed_as_read,
        closed=mended.closed,
        bodies=mended.bodies,
        openings=mended.openings,
        crossing=mended.crossing,
        repairs=mended.repairs,
        questions=questions_of(mended, choices),
        warnings=(*raw.warnings, *_unit_warning(raw, unit), *warnings_of(mended)),
        size_question=size_question(extents / factor, used),
    )


def _check_scale(
    unit: str | None,
    height: float | None,
    up: str | None,
    distance: tuple[Point, Point, float] | None,
    factor: float,
) -> None:
    if unit is not None and unit not in LENGTHS:
        raise InputError(f"unit {unit!r} is no length that is known here: use one of {', '.join(LENGTHS)}")
    if up is not None and up.lstrip("+-") not in ("x", "y", "z"):
        raise InputError(f"up {up!r} is no axis: use x, y, z, -x, -y or -z")
    if height is not None and distance is not None:
        raise InputError("both a height and a distance are given: the scale needs only one of them")
    for name, value in (("height", height), ("distance", distance and distance[2])):
        if value is not None and not 1e-4 <= value <= 100.0:
            raise InputError(f"a {name} of {value:g} m is not within 0.1 mm and 100 m: check the number")
    if not 0.5 <= factor <= 2.0:
        raise InputError(f"factor {factor:g} is not within 0.5 and 2: a shrink allowance is close to 1")


def _scale(
    mended: Mended,
    said: str | None,
    unit: str | None,
    height: float | None,
    up: str | None,
    distance: tuple[Point, Point, float] | None,
) -> tuple[float, UnitFrom]:
    if height is not None:
        if up is None:
            raise InputError("a height is given without its axis: say which axis is up (--up z)")
        extent = float(np.ptp(bounds(mended.surface), axis=0)["xyz".index(up.lstrip("+-"))])
        return height / extent, "height"
    if distance is not None:
        a, b, measured = distance
        apart = float(np.linalg.norm(np.subtract(a, b)))
        if not apart > 1e-9 * float(np.ptp(bounds(mended.surface), axis=0).max()):
            raise InputError("the two picked points are the same: pick two that lie apart")
        return measured / apart, "distance"
    if said is None:
        raise InputError("the unit of the mesh is not said: say it (--unit mm)")
    return to_si(1.0, said), "said" if unit is not None else "file"


def _reach(raw: RawMesh) -> float:
    return float(np.ptp(raw.vertices[raw.faces].reshape(-1, 3), axis=0).max())


def _unit_warning(raw: RawMesh, unit: str | None) -> tuple[str, ...]:
    if unit is None or raw.unit is None or unit == raw.unit:
        return ()
    return (f"the file says its unit is {raw.unit}, it was read in {unit} as you said",)
