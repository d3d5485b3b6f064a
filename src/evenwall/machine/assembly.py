"""The parts of a machine, laid out from what was given and from typical values for the rest.

The mold lies between two boards that four uprights join, closed by clamps at the corners of the closing
board; the frame is a rectangle of four bars in the plane of its own axis and the cradle axis.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Final

import numpy as np

from evenwall.errors import InputError
from evenwall.machine.counterweights import Rims
from evenwall.machine.materials import material
from evenwall.machine.parts import Carrier, Known, Machine, Part, Place, Vector, Weight, box, moved, vector

USUAL_WEIGHTS: Final[tuple[Weight, ...]] = tuple(
    Weight(name=name, mass=mass, count=count)
    for name, mass, count in (
        ("steel piece 100 g", 0.1, 4),
        ("steel piece 250 g", 0.25, 4),
        ("clamp 500 g", 0.5, 4),
        ("steel piece 1 kg", 1.0, 4),
    )
)
CLAMP_SIZE: Final[Vector] = (0.03, 0.03, 0.05)  # that stands out over the closing board [m], typical
TYPICAL: Final[dict[str, str]] = {
    "mold_offset": "the mold's centre of mass lies in the middle of its outer box",
    "cradle_mass": "the cradle's mass follows from boards and uprights of usual size",
    "frame_mass": "the frame's mass follows from bars of usual size",
    "rim": "the hand pushes at the frame's outer edge",
    "cradle_rim": "the hand pushes the cradle at the edge of its boards",
    "axle_height": "the frame axis is 0.9 m above table or floor",
    "weights": "the shop owns a usual set of weights, 100 g to 1 kg",
}


def check(machine: Machine) -> None:
    """Raise InputError where a number of the machine can't be."""
    lengths = {
        "mold's outer size": machine.mold_outer,
        "frame's opening": machine.frame_opening,
        "frame's bars": machine.bar,
        "board": (machine.board,),
        "upright": (machine.upright,),
        "axle height": (machine.axle_height,),
        "shaft": (machine.shaft,),
    }
    for name, values in lengths.items():
        for value in values:
            if not (np.isfinite(value) and value > 0.0):
                raise InputError(f"{name} is {value:g} m: it must be above 0 m")
    if not (np.isfinite(machine.mold_mass) and machine.mold_mass > 0.0):
        raise InputError(f"mass of the mold is {machine.mold_mass:g} kg: weigh it, it must be above 0 kg")


def assembled(machine: Machine, shift: Vector) -> tuple[Part, ...]:
    """All turning parts, with the middle of the mold's outer box `shift` [m] from the crossing.

    Along the cradle axis the whole cradle moves with the mold; across it the mold alone, between packing.
    """
    along = (0.0, 0.0, shift[2])
    mold = box(
        "mold",
        mass=machine.mold_mass,
        size=machine.mold_outer,
        middle=shift,
        centre=vector(np.add(shift, machine.mold_offset)),
        carrier="cradle",
        known=machine.mold_known,
    )
    cradle = [moved(part, along) for part in _cradle(machine)]
    return (mold, *cradle, *_frame(machine), *machine.extras)


def default_places(machine: Machine, shift: Vector) -> tuple[Place, ...]:
    """Where weights may hang: round the cradle's boards, and on the outside of the frame's cross bars."""
    x, y, z = _boards(machine)
    edge = 0.5 * min(x, y)
    out = []
    for name, height in (("closing board", 0.5 * z), ("bottom board", -0.5 * z)):
        for i in range(8):
            angle = 0.25 * np.pi * i
            at = (edge * float(np.cos(angle)), edge * float(np.sin(angle)), height + shift[2])
            out.append(Place(name=f"{name}, {45 * i} degrees", at=at, carrier="cradle", room=2))
    depth, height = 0.5 * machine.bar[1], 0.5 * (machine.frame_opening[1] + machine.bar[0])
    for end, sign in (("upper", 1.0), ("lower", -1.0)):
        for face, side in (("front", 1.0), ("back", -1.0)):
            at = (0.0, side * depth, sign * height)
            out.append(Place(name=f"{end} bar, {face}", at=at, carrier="frame", room=3))
    return tuple(out)


def rims(machine: Machine) -> Rims:
    """Where the hands push [m]: as given, or the frame's outer edge and the edge of the cradle's boards."""
    outer = 0.5 * machine.frame_opening[1] + machine.bar[0]
    x, y, _ = _boards(machine)
    return Rims(
        frame=outer if machine.rim is None else machine.rim,
        cradle=0.5 * max(x, y) if machine.cradle_rim is None else machine.cradle_rim,
    )


def assumed(machine: Machine) -> tuple[str, ...]:
    """What was not given and is taken as typical, one sentence each."""
    unset = {field.name for field in fields(machine) if getattr(machine, field.name) == field.default}
    if machine.mold_centre is not None:
        unset.discard("mold_offset")
    return tuple(words for name, words in TYPICAL.items() if name in unset)


def _boards(machine: Machine) -> Vector:
    """Length, width of the boards and outer height over both [m]."""
    x, y, z = machine.mold_outer
    wide = 2.0 * machine.board_margin
    return x + wide, y + wide, z + 2.0 * machine.board


def _cradle(machine: Machine) -> list[Part]:
    x, y, z = _boards(machine)
    wood, board = material(machine.bar_material), material(machine.board_material)
    sheet: Vector = (x, y, machine.board)
    level = 0.5 * (z - machine.board)
    sheet_mass = board.density * float(np.prod(sheet))
    parts = [
        _typical("closing board", sheet_mass, sheet, (0.0, 0.0, level), "cradle"),
        _typical("bottom board", sheet_mass, sheet, (0.0, 0.0, -level), "cradle"),
    ]
    post: Vector = (machine.upright, machine.upright, machine.mold_outer[2])
    post_mass = wood.density * float(np.prod(post))
    a, b = 0.5 * (machine.mold_outer[0] + machine.upright), 0.5 * (machine.mold_outer[1] + machine.upright)
    for i, (u, v) in enumerate(((a, 0.0), (0.0, b), (-a, 0.0), (0.0, -b)), start=1):
        parts.append(_typical(f"upright {i}", post_mass, post, (u, v, 0.0), "cradle"))
    for i in range(machine.clamps):
        angle = 2.0 * np.pi * (i + 0.5) / machine.clamps
        reach = np.minimum(0.5 * x / max(abs(np.cos(angle)), 1e-9), 0.5 * y / max(abs(np.sin(angle)), 1e-9))
        middle = (
            float(reach * np.cos(angle)) * (1.0 - CLAMP_SIZE[0] / x),
            float(reach * np.sin(angle)) * (1.0 - CLAMP_SIZE[1] / y),
            0.5 * (z + CLAMP_SIZE[2]),
        )
        parts.append(_typical(f"clamp {i + 1}", machine.clamp_mass, CLAMP_SIZE, middle, "cradle"))
    return _weighed(parts, machine.cradle_mass)


def _frame(machine: Machine) -> list[Part]:
    wide, high = machine.frame_opening
    width, depth = machine.bar
    density = material(machine.bar_material).density
    across: Vector = (wide + 2.0 * width, depth, width)
    upright: Vector = (width, depth, high)
    parts = []
    for name, sign in (("upper bar", 1.0), ("lower bar", -1.0)):
        middle = (0.0, 0.0, sign * 0.5 * (high + width))
        parts.append(_typical(name, density * float(np.prod(across)), across, middle, "frame"))
    for name, sign in (("left bar", -1.0), ("right bar", 1.0)):
        middle = (sign * 0.5 * (wide + width), 0.0, 0.0)
        parts.append(_typical(name, density * float(np.prod(upright)), upright, middle, "frame"))
    return _weighed(parts, machine.frame_mass)


def _typical(name: str, mass: float, size: Vector, middle: Vector, carrier: Carrier) -> Part:
    known: Known = "typical"
    return box(name, mass=mass, size=size, middle=middle, carrier=carrier, known=known)


def _weighed(parts: list[Part], total: float | None) -> list[Part]:
    """The parts with their masses scaled to a weighed total [kg]."""
    if total is None:
        return parts
    if not total > 0.0:
        raise InputError(f"weighed mass of {parts[0].carrier} is {total:g} kg: it must be above 0 kg")
    scale = total / sum(part.mass for part in parts)
    out = []
    for part in parts:
        rows = scale * np.array(part.inertia)
        turned = (vector(rows[0]), vector(rows[1]), vector(rows[2]))
        out.append(replace(part, mass=scale * part.mass, known="weighed", inertia=turned))
    return out
