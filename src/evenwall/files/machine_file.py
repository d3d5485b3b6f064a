"""The machine of a job: [mold] and [machine] of job.toml, the piece and the plan become its balance, SI."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.spatial import ConvexHull

from evenwall.errors import InputError
from evenwall.files.job_schema import JobFile
from evenwall.files.open_job import Opened
from evenwall.geometry.solid import Measures, measures
from evenwall.geometry.surface import Surface
from evenwall.job import Job, Plan, air_push
from evenwall.machine.assembly import CLAMP_SIZE
from evenwall.machine.balance import BalanceReport, balance_machine
from evenwall.machine.parts import Machine, Vector, Weight, block_mass, vector
from evenwall.turning.kinematics import FloatArray
from evenwall.units import to_si

GAP: Final = 0.04  # left all round the swept cradle where the frame's opening was not given [m], typical


@dataclass(frozen=True, kw_only=True)
class MachineReading:
    """A job's machine and what had to be assumed for it."""

    machine: Machine
    wall: FloatArray  # farthest points of the cavity from the middle of the mold's outer box [m], (n, 3)
    assumed: tuple[str, ...]  # one sentence each


@dataclass(frozen=True, kw_only=True)
class Shape:
    """What a machine needs to know of the piece's shape."""

    solid: Measures
    middle: FloatArray  # of its box, mesh axes [m], (3,)
    farthest: FloatArray  # corners of its convex hull, mesh axes [m], (n, 3)


def shape_of(surface: Surface) -> Shape:
    """The shape of a closed surface; takes a while for a large one, so keep it."""
    vertices = surface.vertices
    return Shape(
        solid=measures(surface),
        middle=0.5 * (vertices.min(axis=0) + vertices.max(axis=0)),
        farthest=vertices[ConvexHull(vertices).vertices],
    )


def balance_of(opened: Opened, planned: Plan | None = None, *, shape: Shape | None = None) -> BalanceReport:
    """Balance of the job's machine, with the plan's shots in it, or a usual wall's resin where there is no plan.

    Raises InputError in one sentence where a size or a mass can't be.
    """
    reading = machine_of(opened.file, opened.job, planned, shape=shape)
    report = balance_machine(reading.machine, wall=reading.wall)
    return replace(report, assumed=(*reading.assumed, *report.assumed))


def machine_of(
    file: JobFile, job: Job, planned: Plan | None = None, *, shape: Shape | None = None
) -> MachineReading:
    """The machine as far as it is known; the rest follows from the piece and its rubber, and is said so."""
    shape = shape or shape_of(job.piece.surface)
    solid, middle = shape.solid, shape.middle
    assumed: list[str] = []
    outer = _outer(file, solid, assumed)
    offset = _offset(outer, solid, middle)
    casting, centre, liquid = _resin(job, solid, planned, assumed)
    given = file.machine
    machine = Machine(
        mold_mass=_mold_mass(file, job, outer, solid, assumed),
        mold_known="computed" if file.mold.weight_g is None else "weighed",
        mold_outer=outer,
        mold_offset=offset,
        mold_centre=_mold_centre(file, middle, offset),
        frame_opening=_opening(file, outer, assumed),
        casting_mass=casting,
        casting_centre=vector(centre - middle),
        liquid_mass=liquid,
        air_push=None if planned is None else air_push(planned.forecast),
        frame_mass=_or_none(given.frame_weight_g, "g"),
        cradle_mass=_or_none(given.cradle_weight_g, "g"),
        rim=_or_none(given.rim_mm, "mm"),
        axle_height=Machine.axle_height
        if given.axle_height_mm is None
        else to_si(given.axle_height_mm, "mm"),
        weights=tuple(Weight(name=w.name, mass=to_si(w.weight_g, "g"), count=w.count) for w in given.weights),
    )
    if machine.mold_centre is None:
        assumed.append("the mold's centre of mass is that of an even block with the piece in its middle")
    return MachineReading(machine=machine, wall=shape.farthest - middle, assumed=tuple(assumed))


def _outer(file: JobFile, solid: Measures, assumed: list[str]) -> Vector:
    """Outer size of the mold along the mesh's axes [m]."""
    given = file.mold.outer_mm
    if not given:
        rubber = to_si(file.mold.rubber_mm, "mm")
        assumed.append(f"the mold is a block with {file.mold.rubber_mm:g} mm of rubber round the piece's box")
        return vector(np.asarray(solid.extents) + 2.0 * rubber)
    if len(given) != 3:
        raise InputError(
            f"mold.outer_mm has {len(given)} of 3 numbers: give the mold's size along the mesh's x, y and z"
        )
    for axis, size, inside in zip("xyz", given, solid.extents, strict=True):
        if to_si(size, "mm") <= inside:
            raise InputError(
                f"mold.outer_mm is {size:g} mm along {axis} but the piece alone is {1e3 * inside:.1f} mm: "
                "measure the mold along the mesh's x, y and z"
            )
    return vector([to_si(size, "mm") for size in given])


def _offset(outer: Vector, solid: Measures, middle: FloatArray) -> Vector:
    """Centre of mass of an even block with a hollow, from the block's middle [m]."""
    rubber = float(np.prod(outer)) - solid.volume
    return vector(-solid.volume * (np.asarray(solid.centroid) - middle) / rubber)


def _mold_mass(file: JobFile, job: Job, outer: Vector, solid: Measures, assumed: list[str]) -> float:
    if file.mold.weight_g is not None:
        return to_si(file.mold.weight_g, "g")
    assumed.append(
        f"the mold was not weighed: its mass follows from its size and rubber of {file.mold.rubber_density_g_mL:g} g/mL"
    )
    return block_mass(outer=outer, piece_volume=solid.volume, density=job.mold.rubber.density)


def _mold_centre(file: JobFile, middle: FloatArray, offset: Vector) -> Vector | None:
    """From the crossing [m], where the job says where the axes cross or where the mold's centre is."""
    if file.machine.mold_center_mm is not None:
        return vector([to_si(x, "mm") for x in file.machine.mold_center_mm])
    if file.turning.crossing_mm is None:
        return None
    return vector(middle + np.asarray(offset) - [to_si(x, "mm") for x in file.turning.crossing_mm])


def _opening(file: JobFile, outer: Vector, assumed: list[str]) -> tuple[float, float]:
    """Inner opening of the frame along its own axis and along the cradle axis [m]."""
    given = file.machine.frame_opening_mm
    if given:
        if len(given) != 2:
            raise InputError(
                f"machine.frame_opening_mm has {len(given)} of 2 numbers: give the opening along the frame "
                "axis and along the cradle axis"
            )
        return to_si(given[0], "mm"), to_si(given[1], "mm")
    x, y, z = outer
    board = 2.0 * Machine.board_margin
    wide = float(np.hypot(x + board, y + board)) + 2.0 * GAP
    high = z + 2.0 * (Machine.board + CLAMP_SIZE[2] + GAP)
    assumed.append(
        f"the frame's opening is taken as {1e3 * wide:.0f} by {1e3 * high:.0f} mm: what the cradle sweeps and "
        f"{1e3 * GAP:.0f} mm all round"
    )
    return wide, high


def _resin(
    job: Job, solid: Measures, planned: Plan | None, assumed: list[str]
) -> tuple[float, FloatArray, float]:
    """Mass of all coats [kg], its centre in the mesh's axes [m], and the mass of the largest shot [kg]."""
    if planned is None:
        mass = solid.area * job.wish.usual * job.resin.density
        assumed.append("there is no plan yet: the resin is that of the usual wall, in one shot")
        return mass, np.asarray(solid.centroid), mass
    film = planned.forecast
    masses = [shot.shot.volume * job.resin.density for shot in planned.shots]
    centre = np.average(film.wall.vertices, axis=0, weights=film.node_area * film.total)
    return sum(masses), centre, max(masses)


def _or_none(value: float | None, unit: str) -> float | None:
    return None if value is None else to_si(value, unit)
