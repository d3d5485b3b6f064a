"""The machine as a whole: sit the mold, hang counterweights, say what is left and whether all clears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenwall.machine import assembly, torque
from evenwall.machine.cautions import Caution, cautions
from evenwall.machine.clearance import HAND_GAP, Clearance, clearance
from evenwall.machine.counterweights import Hung, Load, as_part, choose, moment_of, rim_force
from evenwall.machine.parts import BillLine, Machine, Part, Vector, bill_of_masses, moment, total_mass
from evenwall.machine.seat import LEAST_GAP, Seat, seat
from evenwall.machine.strength import Strength, strength
from evenwall.turning.kinematics import GRAVITY, FloatArray


@dataclass(frozen=True, kw_only=True)
class BeforeAfter:
    """A worst torque over all attitudes."""

    before: float  # mold in the middle of the cradle, or where it was given, no counterweights [N m]
    after: float  # seated, with counterweights [N m]


@dataclass(frozen=True, kw_only=True)
class BalanceReport:
    """What `evenwall balance` tells."""

    frame_axis_torque: BeforeAfter
    cradle_axis_torque: BeforeAfter
    counterweights: tuple[Hung, ...]
    rim_force: float  # worst gravity force at either rim over all attitudes, empty or full [N]
    limit: float  # wanted [N]
    reached: bool  # rim_force is within the limit
    proved: bool  # no better choice of the weights exists
    friction_force: float  # that the bearings add at the frame's rim [N]
    liquid_torque: tuple[float, float]  # of the moving shot: usual and at most [N m]
    clearance: Clearance
    seat: Seat
    parts: tuple[Part, ...]
    bill: tuple[BillLine, ...]
    turning_mass: float  # of all that turns, with counterweights [kg]
    curves_before: torque.Curves
    curves_after: torque.Curves
    strength: Strength
    cautions: tuple[Caution, ...]
    assumed: tuple[str, ...]  # typical values that were not given, one sentence each
    notes: tuple[str, ...]  # what to mend, one sentence each


def balance_machine(machine: Machine, *, wall: FloatArray | None = None) -> BalanceReport:
    """Balance of a machine: seat, counterweights, torques, clearance, strength and cautions.

    wall: points (n, 3) of the cavity wall from the middle of the mold's outer box, mold axes [m]; the moving
    liquid's torque follows from them, or from the mold's outer box where not given.
    Raises InputError where a number of the machine can't be.
    """
    assembly.check(machine)
    seated = seat(machine)
    start = seated.shift if machine.mold_centre is not None else (0.0, 0.0, 0.0)
    parts = assembly.assembled(machine, seated.shift)
    rims = assembly.rims(machine)
    before = _loads(machine, assembly.assembled(machine, start), start)
    loads = _loads(machine, parts, seated.shift)
    weights = machine.weights or assembly.USUAL_WEIGHTS
    places = machine.places or assembly.default_places(machine, seated.shift)
    choice = choose(loads=loads, weights=weights, places=places, rims=rims, limit=machine.limit)
    extra = moment_of(choice.hung)
    after = [Load(frame=load.frame + extra.frame, cradle=load.cradle + extra.cradle) for load in loads]
    swept = clearance(machine, (*parts, *(as_part(piece) for piece in choice.hung)))
    mass = total_mass(parts) + machine.casting_mass + sum(piece.mass for piece in choice.hung)
    checked = strength(machine, parts, extra_mass=mass - total_mass(parts))
    return BalanceReport(
        frame_axis_torque=BeforeAfter(before=_worst_frame(before), after=_worst_frame(after)),
        cradle_axis_torque=BeforeAfter(before=_worst_cradle(before), after=_worst_cradle(after)),
        counterweights=choice.hung,
        rim_force=rim_force(loads, rims, choice.hung),
        limit=machine.limit,
        reached=choice.reached,
        proved=choice.proved,
        friction_force=machine.friction * mass * GRAVITY * 0.5 * machine.shaft / rims.frame,
        liquid_torque=_liquid(machine, wall, seated.shift),
        clearance=swept,
        seat=seated,
        parts=parts,
        bill=bill_of_masses(parts),
        turning_mass=mass,
        curves_before=torque.curves(before[0].frame, before[0].cradle),
        curves_after=torque.curves(after[0].frame, after[0].cradle),
        strength=checked,
        cautions=cautions(turning_mass=mass, axle_height=machine.axle_height),
        assumed=assembly.assumed(machine),
        notes=_notes(machine, swept, choice.reached, choice.rim_force),
    )


def _loads(machine: Machine, parts: tuple[Part, ...], shift: Vector) -> list[Load]:
    """The empty machine, and the one with all coats in where their mass was given."""
    frame, cradle = moment(parts, "frame"), moment(parts, "cradle")
    loads = [Load(frame=frame, cradle=cradle)]
    if machine.casting_mass > 0.0:
        full = machine.casting_mass * (np.array(shift) + np.array(machine.casting_centre))
        loads.append(Load(frame=frame, cradle=cradle + full))
    return loads


def _worst_frame(loads: list[Load]) -> float:
    return max(torque.worst(load.frame, load.cradle).frame for load in loads)


def _worst_cradle(loads: list[Load]) -> float:
    return max(torque.worst(load.frame, load.cradle).cradle for load in loads)


def _liquid(machine: Machine, wall: FloatArray | None, shift: Vector) -> tuple[float, float]:
    if machine.liquid_mass <= 0.0:
        return 0.0, 0.0
    if wall is None:
        signs = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
        wall = signs * np.array(machine.mold_outer)
    return torque.liquid_torque(np.asarray(wall) + np.array(shift), mass=machine.liquid_mass)


def _notes(machine: Machine, swept: Clearance, reached: bool, force: float) -> tuple[str, ...]:
    notes = []
    least = swept.smallest
    if least.gap < LEAST_GAP:
        degrees = np.rad2deg([least.frame_angle, least.cradle_angle])
        meets = "meets" if least.gap < 0.0 else "comes too near to"
        notes.append(
            f"{least.part} {meets} {least.obstacle} with {least.gap * 1000:.0f} mm to spare at frame angle "
            f"{degrees[0]:.0f} and cradle angle {degrees[1]:.0f} degrees, under {LEAST_GAP * 1000:.0f} mm: "
            "take a larger frame, a smaller cradle or a higher axle"
        )
    hands = next(gap for gap in swept.gaps if gap.obstacle == "hands at the frame")
    if hands.gap < HAND_GAP:
        notes.append(
            f"{hands.part} leaves {hands.gap * 1000:.0f} mm to the frame, under the "
            f"{HAND_GAP * 1000:.0f} mm that do not crush a hand: push only at a handle or at the outside of the rim"
        )
    if not reached:
        notes.append(
            f"{force:.1f} N at the rim with the weights at hand, over {machine.limit:g} N: "
            "hang them farther out, add heavier ones, or sit the mold anew"
        )
    return tuple(notes)
