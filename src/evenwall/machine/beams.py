"""Bars and shafts in bending and torsion: the elementary formulas, one function each.

Source of all: Roark's Formulas for Stress and Strain (from memory), the same in any handbook. They hold for
slender straight bars of one section and small deflections.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenwall.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Section:
    """A cross-section, bent about the axis that is named first where it is made."""

    area: float  # [m2]
    second_moment: float  # I [m4]
    outer_fibre: float  # distance of the outermost fibre from the neutral axis [m]
    torsion_constant: float  # J [m4]
    torsion_fibre: float  # J over this gives the torsion's section modulus [m]


@dataclass(frozen=True, kw_only=True)
class Bending:
    """What a load does to a bar."""

    moment: float  # largest bending moment [N m]
    deflection: float  # largest deflection [m]


def round_tube(*, outer: float, inner: float = 0.0) -> Section:
    """Round tube, or bar where inner is 0; diameters [m]. I = pi (D^4 - d^4)/64, J = 2 I."""
    if not 0.0 <= inner < outer:
        raise InputError(f"inner diameter {inner:g} m of a tube must be below its outer one, {outer:g} m")
    second = np.pi * (outer**4 - inner**4) / 64.0
    area = np.pi * (outer**2 - inner**2) / 4.0
    return Section(
        area=area,
        second_moment=second,
        outer_fibre=outer / 2,
        torsion_constant=2 * second,
        torsion_fibre=outer / 2,
    )


def rectangle(*, width: float, height: float) -> Section:
    """Solid rectangle bent so that its height [m] stands in the plane of the load; I = b h^3/12.

    Torsion constant: long side a, short side b, J = a b^3 (1/3 - 0.21 b/a (1 - b^4/(12 a^4))).
    Largest shear at the middle of the long side: T (3 a + 1.8 b)/(a^2 b^2).
    """
    long, short = max(width, height), min(width, height)
    flat = short / long
    torsion = long * short**3 * (1.0 / 3.0 - 0.21 * flat * (1.0 - flat**4 / 12.0))
    return Section(
        area=width * height,
        second_moment=width * height**3 / 12.0,
        outer_fibre=height / 2.0,
        torsion_constant=torsion,
        torsion_fibre=torsion * (3.0 * long + 1.8 * short) / (long * short) ** 2,
    )


def simply_supported(*, load: float, span: float, modulus: float, section: Section) -> Bending:
    """Load [N] at mid-span [m] of a bar that rests on two supports: M = P L/4, f = P L^3/(48 E I)."""
    stiffness = modulus * section.second_moment
    return Bending(moment=load * span / 4.0, deflection=load * span**3 / (48.0 * stiffness))


def fixed_ends(*, load: float, span: float, modulus: float, section: Section) -> Bending:
    """Load [N] at mid-span [m] of a bar clamped at both ends: M = P L/8, f = P L^3/(192 E I)."""
    stiffness = modulus * section.second_moment
    return Bending(moment=load * span / 8.0, deflection=load * span**3 / (192.0 * stiffness))


def cantilever(*, load: float, length: float, modulus: float, section: Section) -> Bending:
    """Load [N] at the end of a bar of this length [m], clamped at the other: M = P L, f = P L^3/(3 E I)."""
    stiffness = modulus * section.second_moment
    return Bending(moment=load * length, deflection=load * length**3 / (3.0 * stiffness))


def overhung(*, load: float, overhang: float, span: float, modulus: float, section: Section) -> Bending:
    """Equal loads [N] on both overhangs [m] outside two supports [m] apart.

    Between the supports the moment is constant, M = P a, and the middle rises by M L^2/(8 E I).
    """
    moment = load * overhang
    return Bending(moment=moment, deflection=moment * span**2 / (8.0 * modulus * section.second_moment))


def bending_radius(*, moment: float, modulus: float, section: Section) -> float:
    """Radius [m] to which a constant moment [N m] bends the bar: R = E I/M."""
    return modulus * section.second_moment / moment


def bending_stress(*, moment: float, section: Section) -> float:
    """Stress in the outermost fibre [Pa]: M c/I."""
    return moment * section.outer_fibre / section.second_moment


def torsion_stress(*, torque: float, section: Section) -> float:
    """Largest shear stress [Pa] of a torque [N m]: T r/J."""
    return torque * section.torsion_fibre / section.torsion_constant


def twist(*, torque: float, length: float, shear_modulus: float, section: Section) -> float:
    """Angle of twist [rad] over a length [m]: T L/(G J)."""
    return torque * length / (shear_modulus * section.torsion_constant)


def equivalent_stress(*, bending: float, shear: float) -> float:
    """Von Mises' equivalent stress [Pa] of bending and shear together: sqrt(s^2 + 3 t^2)."""
    return float(np.sqrt(bending**2 + 3.0 * shear**2))
