"""Whether bars, shafts, stand and clamps hold: stress, deflection, tipping, each with its safety factor.

Loads are taken twice as they weigh, for the jerk of a turn that is stopped (factor 2, suddenly applied load,
any handbook of mechanics). Bars count as simply supported, the softer and weaker case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.machine import beams
from evenwall.machine.assembly import rims
from evenwall.machine.materials import Kind, material
from evenwall.machine.parts import Machine, Part, total_mass
from evenwall.turning.kinematics import GRAVITY

JERK: Final[float] = 2.0  # suddenly applied load over resting load [-]
FACTORS: Final[dict[Kind, tuple[float, str]]] = {
    "metal": (4.0, "Directive 2006/42/EC, Annex I, 4.1.2.5, metal parts of lifting accessories; from memory"),
    "wood": (
        6.0,
        "clear-wood mean to allowable of construction lumber: knots, duration; common practice, no source",
    ),
    "board": (6.0, "as wood; common practice, no source"),
    "rubber": (6.0, "as wood; common practice, no source"),
}
DEFLECTION_SHARE: Final[float] = 1.0 / 300.0  # of the span; common practice, no source
TIPPING_FACTOR: Final[float] = 2.0  # righting over tipping moment; common practice, no source
HARD_PUSH: Final[float] = (
    130.0  # largest force of a standing person at a crank of 0.4 m [N], engineering table
)
CLAMP_FORCE: Final[float] = 1000.0  # of one screw clamp tightened by hand [N], typical, assumed
AIR_PRESSURE: Final[float] = 101_325.0  # [Pa]
WARMING: Final[float] = 20.0  # by which the air in a closed mold warms [K], assumed
ROOM: Final[float] = 295.0  # [K]
STUB: Final[float] = 0.08  # of a shaft between its bearing and what it carries [m], typical


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check of strength, stiffness or stability."""

    name: str
    value: float  # what is there
    limit: float  # what may be, safety factor included
    unit: str
    holds: bool
    source: str  # of the limit
    words: str  # what to do where it doesn't hold; empty where it does


@dataclass(frozen=True, kw_only=True)
class Strength:
    """All checks of one machine."""

    checks: tuple[Check, ...]
    holds: bool
    notes: tuple[str, ...]  # one sentence for each that doesn't hold


def strength(machine: Machine, parts: Sequence[Part], *, extra_mass: float = 0.0) -> Strength:
    """Checks of a machine with these parts and further turning mass [kg] (casting, counterweights)."""
    cradle = total_mass([part for part in parts if part.carrier == "cradle"]) + extra_mass
    whole = total_mass(parts) + extra_mass
    checks = (
        *_bars(machine, cradle),
        *_shaft(machine, "frame shafts", 0.5 * whole, rims(machine).frame),
        *_shaft(machine, "cradle shafts", cradle, rims(machine).cradle),
        *([] if machine.stand_fixed else [_tipping(machine, whole)]),
        _closing(machine),
    )
    broken = tuple(check.words for check in checks if not check.holds)
    return Strength(checks=checks, holds=not broken, notes=broken)


def allowable(name: str) -> tuple[float, str]:
    """Allowable stress [Pa] of a material of the table, and where its safety factor comes from."""
    found = material(name)
    factor, source = FACTORS[found.kind]
    return found.strength / factor, f"{found.source}; factor {factor:g}: {source}"


def tipping_ratio(*, mass: float, foot: float, push: float, height: float) -> float:
    """Righting over tipping moment [-]: m g (b/2)/(F h), with foot b [m], push F [N] at height h [m]."""
    return mass * GRAVITY * 0.5 * foot / (push * height)


def closing_force(*, mass: float, area: float, warming: float) -> float:
    """Force [N] on the closing board with the mold upside down: its weight, and the warmed air's pressure.

    Air in a closed mold warmed by dT presses with p0 dT/T (Gay-Lussac); mass [kg], area of the opening [m2],
    warming [K]. Example: 20 K over 1 dm2 are 69 N.
    """
    return mass * GRAVITY + AIR_PRESSURE * warming / ROOM * area


def _bars(machine: Machine, cradle: float) -> tuple[Check, Check]:
    """A cross bar carries the whole cradle at mid-span when the cradle axis stands upright."""
    wood = material(machine.bar_material)
    section = beams.rectangle(width=machine.bar[1], height=machine.bar[0])
    span = machine.frame_opening[0] + machine.bar[0]
    load = JERK * cradle * GRAVITY
    bent = beams.simply_supported(load=load, span=span, modulus=wood.modulus, section=section)
    stress = beams.bending_stress(moment=bent.moment, section=section)
    most, source = allowable(machine.bar_material)
    return (
        _check("cross bar, bending stress", stress, most, "Pa", source, "take a thicker bar for the frame"),
        _check(
            "cross bar, deflection",
            bent.deflection,
            DEFLECTION_SHARE * span,
            "m",
            "1/300 of the span; common practice, no source",
            "take a thicker bar for the frame, it gives too much",
        ),
    )


def _shaft(machine: Machine, name: str, mass: float, rim: float) -> tuple[Check, Check]:
    """A stub shaft carries its load at its end, and the torque of a person's hardest push."""
    steel = material("steel")
    section = beams.round_tube(outer=machine.shaft)
    bent = beams.cantilever(load=JERK * mass * GRAVITY, length=STUB, modulus=steel.modulus, section=section)
    stress = beams.equivalent_stress(
        bending=beams.bending_stress(moment=bent.moment, section=section),
        shear=beams.torsion_stress(torque=HARD_PUSH * rim, section=section),
    )
    most, source = allowable("steel")
    return (
        _check(f"{name}, stress", stress, most, "Pa", source, f"take thicker {name}"),
        _check(
            f"{name}, deflection",
            bent.deflection,
            DEFLECTION_SHARE * STUB,
            "m",
            "1/300 of the length; common practice, no source",
            f"take thicker or shorter {name}",
        ),
    )


def _tipping(machine: Machine, whole: float) -> Check:
    """Against a person's hardest push at the rim where it stands highest."""
    height = machine.axle_height + rims(machine).frame
    ratio = tipping_ratio(mass=whole + machine.stand_mass, foot=machine.foot, push=HARD_PUSH, height=height)
    return Check(
        name="stand, righting over tipping moment at a hard push",
        value=ratio,
        limit=TIPPING_FACTOR,
        unit="",
        holds=ratio >= TIPPING_FACTOR,
        source="common practice, no source",
        words=""
        if ratio >= TIPPING_FACTOR
        else f"the stand rights itself {ratio:.1f} times a hard push, under {TIPPING_FACTOR:g}: "
        "screw it down, weigh it down or widen its foot",
    )


def _closing(machine: Machine) -> Check:
    area = 0.25 * machine.mold_outer[0] * machine.mold_outer[1]
    resting = closing_force(mass=machine.mold_mass, area=area, warming=WARMING)
    if machine.air_push is not None:
        resting = machine.mold_mass * GRAVITY + machine.air_push
    need = JERK * resting
    return _check(
        "force on the clamps with the mold upside down and its air warmed",
        need,
        max(machine.clamps, 1e-9) * CLAMP_FORCE,
        "N",
        "1 kN for a screw clamp tightened by hand, typical",
        "take more clamps, or bolts through both boards",
    )


def _check(name: str, value: float, limit: float, unit: str, source: str, remedy: str) -> Check:
    holds = bool(value <= limit and np.isfinite(value))
    words = "" if holds else f"{name} is {value:.3g} {unit}, over {limit:.3g} {unit}: {remedy}"
    return Check(name=name, value=value, limit=limit, unit=unit, holds=holds, source=source, words=words)
