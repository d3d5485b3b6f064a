"""Where to sit the mold so that all centres meet where the axes cross, and how to find the mold's own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.errors import InputError
from evenwall.machine.assembly import assembled
from evenwall.machine.parts import Machine, Part, Vector, corners, moment, total_mass, vector

LEAST_GAP: Final[float] = 0.010  # between what turns and what does not [m], common practice
PACKING_STEP: Final[float] = 1e-3  # of packing that a shop can lay in [m]
MINUS: Final[str] = "\u2212"  # unlike a hyphen it stays with its axis where a line is broken
EDGE_ERROR: Final[float] = 0.003  # of one reading of a balance on an edge [m], typical
UNREAD_SHARE: Final[float] = (
    0.1  # of the mold's size: how far a centre that was not read may lie off the middle
)


@dataclass(frozen=True, kw_only=True)
class Seat:
    """Where the mold sits in the cradle."""

    shift: Vector  # middle of the mold's outer box from the crossing [m]
    words: str  # what to do, one sentence

    @property
    def crossing(self) -> Vector:
        """The crossing from the middle of the mold's outer box, in mold axes [m]."""
        return vector(-np.array(self.shift))


@dataclass(frozen=True, kw_only=True)
class Centre:
    """The mold's centre of mass, found by balancing it on an edge."""

    offset: Vector  # from the middle of the mold's outer box [m]
    error: Vector  # standard error of each [m]
    notes: tuple[str, ...]


def seat(machine: Machine) -> Seat:
    """The seat of least torque within the frame's opening; as given where the mold's centre was given."""
    if machine.mold_centre is not None:
        given = vector(np.subtract(machine.mold_centre, machine.mold_offset))
        return _seat(given, limited=False)
    parts = assembled(machine, (0.0, 0.0, 0.0))
    cradle, frame = moment(parts, "cradle"), moment(parts, "frame")
    if machine.casting_mass > 0.0:  # between empty and full
        cradle = cradle + 0.5 * machine.casting_mass * np.array(machine.casting_centre)
    riding = total_mass([part for part in parts if part.carrier == "cradle"]) + 0.5 * machine.casting_mass
    across = -cradle[:2] / (machine.mold_mass + 0.5 * machine.casting_mass)
    along = -(cradle[2] + frame[2]) / riding
    moving = [part for part in parts if part.name == "mold"]
    kept, narrow = _across(machine, moving, float(across[0]), float(across[1]))
    room = 0.5 * machine.frame_opening[1] - LEAST_GAP
    high = max(float(corners(part)[:, 2].max()) for part in parts if part.carrier == "cradle")
    low = min(float(corners(part)[:, 2].min()) for part in parts if part.carrier == "cradle")
    lifted = float(np.clip(along, min(-room - low, 0.0), max(room - high, 0.0)))
    limited = narrow or abs(lifted - along) > 1e-9
    step = PACKING_STEP
    return _seat((_stepped(kept[0], step), _stepped(kept[1], step), _stepped(lifted, step)), limited=limited)


def _stepped(value: float, step: float) -> float:
    """The value in whole steps, towards zero where between two, so that it never goes too far."""
    return float(np.sign(value) * np.floor(abs(value) / step + 0.5 - 1e-9) * step)


def _across(machine: Machine, mold: list[Part], x: float, y: float) -> tuple[tuple[float, float], bool]:
    """The shift across as far as the mold still swings clear; and whether it was cut short."""
    radius = 0.5 * machine.frame_opening[0] - LEAST_GAP
    points = np.vstack([corners(part)[:, :2] for part in mold])

    def clear(share: float) -> bool:
        return bool(np.linalg.norm(points + share * np.array([x, y]), axis=1).max() <= radius)

    if clear(1.0) or not clear(0.0):
        return (x, y), False
    low, high = 0.0, 1.0
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if clear(middle) else (low, middle)
    return (low * x, low * y), True


def _seat(shift: Vector, *, limited: bool) -> Seat:
    moves = [
        f"{abs(value) * 1000.0:.0f} mm\u00a0{'+' if value > 0.0 else MINUS}{axis}"
        for axis, value in zip("xyz", shift, strict=True)
        if abs(value) >= 0.0005
    ]
    words = (
        "sit the mold in the middle" if not moves else "sit the mold off the middle by " + ", ".join(moves)
    )
    if limited:
        words += "; the opening lets it go no farther, counterweights do the rest"
    return Seat(shift=shift, words=words)


def centre_from_edge(outer: Vector, readings: dict[str, float], *, error: float = EDGE_ERROR) -> Centre:
    """The centre of mass of a mold that was balanced on an edge, once along and once across.

    outer: size along the mold axes [m]; readings: for "x", "y" or "z", the distance [m] of the edge from the
    mold's face on the minus side, with the mold balanced on the edge and that axis level. An axis that was not
    read is taken as the middle, known to a tenth of the size. error: of a reading [m].
    Raises InputError for a reading outside the mold, or none at all.
    """
    if not readings or set(readings) - set("xyz"):
        raise InputError(
            f"balance on an edge along {sorted(readings)}: give readings along two of x, y and z"
        )
    offset, errors, notes = [], [], []
    for axis, size in zip("xyz", outer, strict=True):
        if axis not in readings:
            offset.append(0.0)
            errors.append(UNREAD_SHARE * size)
            notes.append(f"the centre along {axis} was not read and is taken as the middle")
            continue
        at = readings[axis]
        if not 0.0 < at < size:
            raise InputError(
                f"balance on an edge: {at * 1000:g} mm along {axis} lies outside the mold of "
                f"{size * 1000:g} mm: measure from its face on the minus side"
            )
        offset.append(at - 0.5 * size)
        errors.append(error)
    return Centre(offset=vector(offset), error=vector(errors), notes=tuple(notes))
