"""The liquid as the film's kernels take it: laws and constants in one flat record."""

from __future__ import annotations

from typing import Final, NamedTuple

from evenwall.resin.cure import CureLaw
from evenwall.resin.data import Resin
from evenwall.resin.viscosity import ViscosityLaw


class Fluid(NamedTuple):
    """Constants of the liquid; its conversion starts at 0 when it is mixed."""

    cure: CureLaw
    viscosity: ViscosityLaw
    density: float  # [kg/m3]
    heat_capacity: float  # [J/(kg K)]
    conductivity: float  # [W/(m K)]
    reaction_heat: float  # [J/kg]
    surface_tension: float  # [N/m]


class Terms(NamedTuple):
    """Which terms of the equation count, as factors; published cases leave some out."""

    normal_gravity: float = 1.0  # weight of the film across itself, rho b_n h
    wall_curvature: float = 1.0  # curvature of the wall in the volume and the capillary pressure
    inertia: float = 1.0  # centrifugal and Euler terms of the turning mold
    second_order: float = 1.0  # limited second-order faces; 0: the donor's thickness
    drops: float = 1.0  # liquid that hangs and is more than a drop can hold falls; 0: it stays
    mobility_cap: float = 1e-4  # M/h of deep pools [m2/(Pa s)]; inf: none


ALL_TERMS: Final = Terms()  # the equations as they stand


def fluid_of(resin: Resin) -> Fluid:
    """The resin's laws and constants as the kernels take them."""
    return Fluid(
        cure=resin.cure,
        viscosity=resin.viscosity,
        density=resin.density,
        heat_capacity=resin.heat_capacity,
        conductivity=resin.conductivity,
        reaction_heat=resin.reaction_heat,
        surface_tension=resin.surface_tension,
    )


def constant_fluid(*, viscosity: float, density: float, surface_tension: float = 0.0) -> Fluid:
    """A liquid that never cures: viscosity [Pa s], density [kg/m3], surface tension [N/m].

    Example: constant_fluid(viscosity=1.0, density=1000.0) is the liquid of most published cases.
    """
    return Fluid(
        cure=CureLaw(rate_factor=0.0, activation=0.0, order_n=1.0, order_m=1.0, seed=0.0, gel=1.0),
        viscosity=ViscosityLaw(factor=viscosity, activation=0.0, gel=1.0, exponent_a=0.0, exponent_b=0.0),
        density=density,
        heat_capacity=1800.0,
        conductivity=0.2,
        reaction_heat=0.0,
        surface_tension=surface_tension,
    )
