"""The parts of the machine: what each weighs, where its centre is, and who says so.

Cradle axes turn with the cradle and lie along the mold axes; frame axes turn with the frame and lie along
the room axes at rest. Both have their origin at the crossing, where the frame axis (X) and the cradle axis
(Z) meet. At cradle angle 0 they coincide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from evenwall.errors import InputError
from evenwall.geometry.solid import measures
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import FloatArray

Vector = tuple[float, float, float]
Carrier = Literal["cradle", "frame"]
Known = Literal["weighed", "computed", "typical"]


@dataclass(frozen=True, kw_only=True)
class Part:
    """One thing that turns; vectors in the axes of its carrier."""

    name: str
    mass: float  # [kg]
    centre: Vector  # centre of mass from the crossing [m]
    carrier: Carrier
    known: Known  # where the mass comes from
    size: Vector = (0.0, 0.0, 0.0)  # of the box around it [m]; zero for a small piece
    middle: Vector | None = None  # of that box from the crossing [m]; None where it is the centre of mass
    inertia: tuple[Vector, Vector, Vector] = (
        (0.0,) * 3,
    ) * 3  # about its centre of mass [kg m2], shape (3, 3)

    @property
    def box_middle(self) -> Vector:
        """Middle of the box around the part [m]."""
        return self.centre if self.middle is None else self.middle


@dataclass(frozen=True, kw_only=True)
class BillLine:
    """One line of the bill of masses."""

    name: str
    carrier: Carrier
    mass: float  # [kg]
    known: Known
    centre: Vector  # [m]


@dataclass(frozen=True, kw_only=True)
class Weight:
    """A kind of piece that the shop owns."""

    name: str
    mass: float  # of one piece [kg]
    count: int  # pieces at hand


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where pieces may be hung."""

    name: str
    at: Vector  # from the crossing, in the carrier's axes [m]
    carrier: Carrier
    room: int = 1  # pieces that find room there


@dataclass(frozen=True, kw_only=True)
class Machine:
    """Frame, cradle and mold. Only the mold's mass, its outer size and the frame's opening must be given."""

    mold_mass: float  # [kg]
    mold_outer: Vector  # outer size along the mold axes [m]
    frame_opening: tuple[float, float]  # inner opening along the frame axis and along the cradle axis [m]
    mold_known: Known = "weighed"
    mold_offset: Vector = (0.0, 0.0, 0.0)  # centre of mass from the middle of the mold's outer box [m]
    mold_centre: Vector | None = None  # centre of mass from the crossing [m]; None: sit it where it is best
    casting_mass: float = 0.0  # of all coats, once they are in [kg]
    casting_centre: Vector = (0.0, 0.0, 0.0)  # of all coats from the middle of the mold's outer box [m]
    liquid_mass: float = 0.0  # of the largest shot while it moves [kg]
    cradle_mass: float | None = None  # boards, uprights and clamps together, weighed [kg]
    frame_mass: float | None = None  # weighed [kg]
    board: float = 0.018  # thickness of the cradle's two boards [m]
    board_margin: float = 0.03  # by which the boards stand out beyond the mold [m]
    upright: float = 0.04  # side of the cradle's four square uprights [m]
    clamps: int = 4  # on the closing board
    clamp_mass: float = 0.3  # of one clamp [kg]
    air_push: float | None = (
        None  # of the warmed shut-in air on the closing, as forecast [N]; None: not known
    )
    bar: tuple[float, float] = (0.045, 0.07)  # the frame's bars: width in its plane, depth across it [m]
    bar_material: str = "red pine"
    board_material: str = "softwood plywood"
    rim: float | None = None  # distance of the pushing hand from the frame axis [m]
    cradle_rim: float | None = None  # distance of the pushing hand from the cradle axis [m]
    axle_height: float = 0.9  # of the frame axis above table or floor [m]
    stand_gap: float = 0.04  # between frame and stand on each side [m]
    foot: float = 0.7  # depth of the stand's foot across the frame axis [m]
    stand_mass: float = 10.0  # of the stand [kg]
    stand_fixed: bool = False  # screwed down or clamped to the table
    shaft: float = 0.020  # diameter of the steel shafts of frame and cradle [m]
    friction: float = 0.15  # coefficient of the bearings [-]
    limit: float = 3.0  # wanted at the rim [N]
    ratio: float | None = None  # cradle turns per frame turn; None: each axis is pushed on its own
    weights: tuple[Weight, ...] = ()  # the shop's; a usual set where none are given
    places: tuple[Place, ...] = ()  # where they may hang; boards and bars where none are given
    extras: tuple[Part, ...] = ()  # anything else that turns


def box(
    name: str,
    *,
    mass: float,
    size: Vector,
    middle: Vector,
    carrier: Carrier,
    known: Known,
    centre: Vector | None = None,
) -> Part:
    """A box of even density around `middle` [m]; sizes [m], mass [kg].

    With a `centre` of its own [m], for what is known not to be even, the box only tells what it takes up.
    """
    _positive(f"mass of {name}", mass, "kg")
    for length in size:
        _positive(f"size of {name}", length, "m")
    a, b, c = (length**2 for length in size)
    inertia = (
        (mass * (b + c) / 12.0, 0.0, 0.0),
        (0.0, mass * (a + c) / 12.0, 0.0),
        (0.0, 0.0, mass * (a + b) / 12.0),
    )
    return Part(
        name=name,
        mass=mass,
        centre=middle if centre is None else centre,
        carrier=carrier,
        known=known,
        size=size,
        middle=middle,
        inertia=inertia,
    )


def solid(
    name: str, surface: Surface, *, density: float, crossing: Vector, carrier: Carrier = "cradle"
) -> Part:
    """A part of the shape of a closed surface in mold axes [m], of even density [kg/m3]."""
    shape = measures(surface)
    centroid = np.asarray(shape.centroid, dtype=np.float64)
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    rows = density * np.asarray(shape.inertia, dtype=np.float64)
    return Part(
        name=name,
        mass=float(density * shape.volume),
        centre=vector(centroid - crossing),
        carrier=carrier,
        known="computed",
        size=vector(high - low),
        middle=vector(0.5 * (low + high) - crossing),
        inertia=(vector(rows[0]), vector(rows[1]), vector(rows[2])),
    )


def moved(part: Part, by: Vector) -> Part:
    """The same part moved by a vector [m] in its carrier's axes."""
    return replace(
        part,
        centre=vector(np.add(part.centre, by)),
        middle=None if part.middle is None else vector(np.add(part.middle, by)),
    )


def total_mass(parts: Sequence[Part]) -> float:
    """Mass of all parts together [kg]."""
    return float(sum(part.mass for part in parts))


def moment(parts: Sequence[Part], carrier: Carrier) -> FloatArray:
    """Sum of mass times centre [kg m], shape (3,), of the parts on this carrier, in its axes."""
    out = np.zeros(3)
    for part in parts:
        if part.carrier == carrier:
            out += part.mass * np.asarray(part.centre)
    return out


def inertia(parts: Sequence[Part]) -> FloatArray:
    """Inertia about the crossing [kg m2], shape (3, 3), of parts on one carrier, in its axes."""
    if len({part.carrier for part in parts}) > 1:
        raise InputError(
            "inertia of parts on frame and cradle together changes with the cradle angle: ask for one"
        )
    out = np.zeros((3, 3))
    for part in parts:
        c = np.array(part.centre)
        out += np.array(part.inertia) + part.mass * (float(c @ c) * np.eye(3) - np.outer(c, c))
    return out


def corners(part: Part) -> FloatArray:
    """The eight corners (8, 3) [m] of the box around a part, in its carrier's axes."""
    signs = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
    points: FloatArray = np.array(part.box_middle) + signs * np.array(part.size)
    return points


def bill_of_masses(parts: Sequence[Part]) -> tuple[BillLine, ...]:
    """The parts from the heaviest to the lightest, each with what is known of its mass."""
    ordered = sorted(parts, key=lambda part: -part.mass)
    return tuple(
        BillLine(name=p.name, carrier=p.carrier, mass=p.mass, known=p.known, centre=p.centre) for p in ordered
    )


def block_mass(*, outer: Vector, piece_volume: float, density: float) -> float:
    """Mass [kg] of a block mold: its outer box [m] less the piece [m3], of rubber [kg/m3]."""
    block = float(np.prod(outer))
    if not 0.0 <= piece_volume < block:
        raise InputError(
            f"piece of {piece_volume:.3g} m3 does not fit a mold of {block:.3g} m3: "
            "check the mold's outer size"
        )
    return density * (block - piece_volume)


def jacket_mass(
    *, area: float, piece_volume: float, skin: float, density: float, jacket: float, jacket_density: float
) -> float:
    """Mass [kg] of a rubber skin and its jacket around a piece of this area [m2] and volume [m3].

    skin and jacket: thicknesses [m]; densities [kg/m3]. A shell of thickness t around a body of radius
    R = 3 V/A has the volume A t (1 + t/R + t^2/(3 R^2)): exact for a sphere, an estimate for the rest.
    """
    radius = 3.0 * piece_volume / area

    def shell(thickness: float) -> float:
        part = thickness / radius
        return area * thickness * (1.0 + part + part**2 / 3.0)

    return density * shell(skin) + jacket_density * (shell(skin + jacket) - shell(skin))


def vector(values: Sequence[float] | FloatArray) -> Vector:
    """Three numbers as a plain tuple."""
    x, y, z = (float(value) for value in values)
    return x, y, z


def _positive(name: str, value: float, unit: str) -> None:
    if not (np.isfinite(value) and value > 0.0):
        raise InputError(f"{name} is {value:g} {unit}: it must be above 0 {unit}")
