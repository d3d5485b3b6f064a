"""A mesh file of any kind becomes a closed surface with an account of it, or one clear sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal, Protocol

import numpy as np
import numpy.typing as npt

from evenwall.errors import InputError, MeshError
from evenwall.files.glb_format import parse_glb
from evenwall.files.mesh_bytes import read_bytes
from evenwall.files.mesh_checks import RawMesh, check_raw
from evenwall.files.mesh_questions import (
    Question,
    choices_of,
    questions_of,
    size_question,
    warnings_of,
)
from evenwall.files.mesh_scale import Distance, Point, UnitFrom, check_scale, scale_of, upright
from evenwall.files.obj_format import parse_obj
from evenwall.files.ply_format import parse_ply
from evenwall.files.stl_format import parse_stl
from evenwall.files.threemf_format import parse_3mf
from evenwall.geometry.bodies import Body
from evenwall.geometry.mend import mend
from evenwall.geometry.mended import Anew, CrossingSkins, Halves, Opening, mended_at
from evenwall.geometry.repair import Repair, welded
from evenwall.geometry.solid import area, volume
from evenwall.geometry.surface import FloatArray, Surface, bounds

_PARSERS: Final = {"STL": parse_stl, "OBJ": parse_obj, "PLY": parse_ply, "3MF": parse_3mf, "GLB": parse_glb}


@dataclass(frozen=True, kw_only=True, eq=False)
class MeshReading:
    """A mesh file as a closed surface, and everything that was done or is to be asked."""

    surface: Surface  # closed, outward [m]; in the file's axes, or turned so that z is up
    kind: str  # format of the file, e.g. "binary STL"
    unit: str | None  # length unit of the file's numbers; None where a height or distance gave the scale
    unit_from: UnitFrom  # said by the user, the file's standard field, or a measured length
    metres_per_number: float  # scale from the file's numbers [m]
    turn: FloatArray  # rotation from the file's axes to those of `surface`, (3, 3)
    up: str | None  # the file's axis that is up, as said or by the file's standard
    faces_read: int  # triangles in the file
    open_edges: int  # edges of one face only, before anything was filled
    watertight: bool  # closed as it came, once equal vertices are joined
    closed: bool  # the surface is closed; False only where a repair was refused
    bodies: tuple[Body, ...]  # as found, the piece first
    openings: tuple[Opening, ...]  # wide openings and the faces that cap them
    crossing: CrossingSkins | None  # where skins cross
    halves: Halves | None  # two open parts whose rims face each other
    anew: Anew | None  # why the wall was built anew, and what that lost; None where it is the scan's own
    area_band: tuple[float, float]  # what the area may be, filled holes being guessed [m2]
    volume_band: tuple[float, float]  # the same for the volume [m3]
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
    distance: Distance | None = None,
    factor: float = 1.0,
    turned: bool = False,
    answers: Mapping[str, str] | None = None,
    refused: frozenset[str] = frozenset(),
    rebuild: Literal["if needed", "always"] = "if needed",
) -> MeshReading:
    """Read, check and mend a mesh file.

    unit: of the file's numbers ("mm", "in", ...), needed where the format has no field for it.
    height: wanted extent along the axis `up` ("x", "y", "z", "-x", ...) [m]; gives the scale instead of a
    unit. distance: two points in the file's numbers and the distance measured between them [m]; the same.
    factor: on all lengths at the end, e.g. a shrink allowance (no unit). turned: turn the piece so that `up`
    (or what the file's standard calls up) becomes z. answers: to questions, by name; refused: names of repairs
    to leave out. rebuild: build the wall anew from distances, if it can't be mended or always.
    Raises MeshError for a file that can't be a piece, InputError where unit or axis is missing or odd.
    """
    file = Path(path)
    choices = replace(choices_of(dict(answers or {}), refused), rebuild=rebuild)
    check_scale(unit=unit, height=height, up=up, distance=distance, factor=factor)
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
    scale, unit_from = scale_of(
        mended.surface, unit=said, said=unit is not None, height=height, up=up, distance=distance
    )
    turn = upright(up or "z") if turned else np.eye(3)
    mended = mended_at(mended, scale * factor, turn=turn)
    extents = np.ptp(bounds(mended.surface), axis=0)
    used = said if unit_from in ("said", "file") else None
    return MeshReading(
        surface=mended.surface,
        kind=raw.kind,
        unit=used,
        unit_from=unit_from,
        metres_per_number=scale * factor,
        turn=turn,
        up=up,
        faces_read=len(raw.faces),
        open_edges=mended.open_edges,
        watertight=mended.open_edges == 0,
        closed=mended.closed,
        bodies=mended.bodies,
        openings=mended.openings,
        crossing=mended.crossing,
        halves=mended.halves,
        anew=mended.anew,
        area_band=band(area(mended.surface), mended.fill_area),
        volume_band=band(volume(mended.surface), mended.fill_volume),
        repairs=mended.repairs,
        questions=questions_of(mended, choices),
        warnings=(*raw.warnings, *_unit_warning(raw, unit), *warnings_of(mended)),
        size_question=size_question(extents / factor, used),
    )


class Scaled(Protocol):
    """Whatever knows how its piece was scaled and turned, e.g. a MeshReading."""

    @property
    def metres_per_number(self) -> float:
        """Scale from the file's numbers [m]."""

    @property
    def turn(self) -> FloatArray:
        """Rotation from the file's axes to those of the piece, (3, 3)."""


def place_in_file(reading: Scaled, point: npt.ArrayLike) -> Point:
    """A place (3,) [m] on the piece in the numbers of its file, as `distance` takes them."""
    x, y, z = (reading.turn.T @ np.asarray(point, dtype=np.float64) / reading.metres_per_number).tolist()
    return x, y, z


def place_on_piece(reading: Scaled, point: npt.ArrayLike) -> Point:
    """A place (3,) in the numbers of the file on the piece [m]; undoes `place_in_file`."""
    x, y, z = (reading.metres_per_number * (reading.turn @ np.asarray(point, dtype=np.float64))).tolist()
    return x, y, z


def band(value: float, more: tuple[float, float]) -> tuple[float, float]:
    """From the value less to the value more, in its unit."""
    return value + more[0], value + more[1]


def _reach(raw: RawMesh) -> float:
    return float(np.ptp(raw.vertices[raw.faces].reshape(-1, 3), axis=0).max())


def _unit_warning(raw: RawMesh, unit: str | None) -> tuple[str, ...]:
    if unit is None or raw.unit is None or unit == raw.unit:
        return ()
    return (f"the file says its unit is {raw.unit}, it was read in {unit} as you said",)
