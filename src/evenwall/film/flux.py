"""Fluxes of the film through the faces between nodes: pressures first, then one pass over the edges.

Every kernel does its thread's share and ends with a meeting of the team.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.film.equations import (
    DRY,
    SLOT,
    face_thickness,
    mobility,
    mobility_slope,
    saturated,
    saturated_slope,
    slope_of,
    surface_of,
    thickness_of,
)
from evenwall.film.fluid import Fluid, Terms
from evenwall.film.operators import Wall
from evenwall.film.state import Floats
from evenwall.film.team import Team, meet, share
from evenwall.turning.kinematics import Motion, angular_acceleration, angular_velocity, gravity

THINNEST_SECOND: Final = 1e-4  # second-order faces only where both nodes are thicker than this [m]


class Film(NamedTuple):
    """The film on n nodes; changed in place by the stepping."""

    volume: Floats  # (n,) liquid per wall area [m]
    cured: Floats  # (n,) liquid per wall area times its conversion [m]
    heat: Floats  # (n,) liquid per wall area times its temperature [m K]
    solid: Floats  # (n,) gelled volume per wall area under the liquid [m]
    solid_thickness: Floats  # (n,) [m]
    solid_cured: Floats  # (n,) conversion of the gelled part []
    solid_temperature: Floats  # (n,) [K]
    viscosity: Floats  # (n,) of the liquid [Pa s]


class Work(NamedTuple):
    """What a step computes on the way; n nodes, k edges."""

    thickness: Floats  # (n,) liquid and gelled together [m]
    depth: Floats  # (n,) of the liquid [m]
    pressure: Floats  # (n,) Psi [Pa]
    stiffness: Floats  # (n,) dPsi/dv without the capillary coupling [Pa/m]
    lift: Floats  # (n,) d(capillary thickness)/dv []
    capillary: Floats  # (n,) capillary thickness [m]
    mobile: Floats  # (n,) dM/dv [m2/(Pa s)]
    conductance: Floats  # (n,) sum of C over a node's edges [m3/(Pa s)]
    slide: Floats  # (n,) sum of |D| over the edges it gives through [m2/s]
    net: Floats  # (n,) net outflow [m3/s]
    flux: Floats  # (k,) from tail to head [m3/s]
    coupling: Floats  # (k,) C = w M of the face [m3/(Pa s)]
    drag: Floats  # (k,) D = w dM/dv of the donor times the pressure difference [m2/s]


class Body(NamedTuple):
    """Body force of one instant in mold axes."""

    g: tuple[float, float, float]  # gravity [m/s2]
    w: tuple[float, float, float]  # angular velocity [rad/s]
    turn: tuple[float, float, float]  # angular acceleration [rad/s2]
    crossing: tuple[float, float, float]  # where the axes cross [m]


def new_work(nodes: int, edges: int) -> Work:
    """Empty arrays for a wall of so many nodes and edges."""
    return Work(*(np.zeros(nodes) for _ in range(10)), *(np.zeros(edges) for _ in range(3)))


@njit(cache=True)
def body_at(motion: Motion, t: float, crossing: tuple[float, float, float], inertia: float) -> Body:
    """Body force of the motion at t [s]; `inertia` 0 leaves out the centrifugal and Euler terms."""
    w = angular_velocity(motion, t)
    a = angular_acceleration(motion, t)
    return Body(
        gravity(motion, t),
        (inertia * w[0], inertia * w[1], inertia * w[2]),
        (inertia * a[0], inertia * a[1], inertia * a[2]),
        crossing,
    )


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def pressures(
    team: Team,
    wall: Wall,
    volume: Floats,
    film: Film,
    work: Work,
    fluid: Fluid,
    terms: Terms,
    body: Body,
    knee: float,
) -> None:
    """Thickness, pressure and their slopes at every node; `knee` [m] is where deep liquid saturates."""
    rho, sigma = fluid.density, fluid.surface_tension
    g0, g1, g2 = body.g
    w0, w1, w2 = body.w
    spin2 = w0 * w0 + w1 * w1 + w2 * w2
    first, last = share(team, volume.size)
    for i in range(first, last):
        mean, gauss = wall.mean[i], wall.gauss[i]
        liquid = volume[i] + film.solid[i]
        limit, brim = wall.limit[i], wall.brim[i]
        h = thickness_of(liquid, mean, gauss, limit, brim)
        slope = slope_of(h, mean, gauss) if liquid < brim else 0.0
        per_volume = 1.0 / slope if slope > 0.0 else 0.0
        depth = h - film.solid_thickness[i]
        r0 = wall.x[i, 0] - body.crossing[0]
        r1 = wall.x[i, 1] - body.crossing[1]
        r2 = wall.x[i, 2] - body.crossing[2]
        along = w0 * r0 + w1 * r1 + w2 * r2
        reach2 = r0 * r0 + r1 * r1 + r2 * r2
        b0 = g0 + spin2 * r0 - along * w0
        b1 = g1 + spin2 * r1 - along * w1
        b2 = g2 + spin2 * r2 - along * w2
        potential = -(g0 * r0 + g1 * r1 + g2 * r2) - 0.5 * (spin2 * reach2 - along * along)
        normal = b0 * wall.normal[i, 0] + b1 * wall.normal[i, 1] + b2 * wall.normal[i, 2]
        across = normal * terms.normal_gravity
        weight = -rho * across * h
        stiffness = -rho * across * per_volume
        if across > 0.0:
            room, hanging = limit - h, saturated(h, knee)
            if hanging <= room:
                weight = -rho * across * hanging
                stiffness *= saturated_slope(h, knee)
            else:
                weight = -rho * across * room
                stiffness = -stiffness
        if liquid >= brim:
            stiffness = rho * np.sqrt(b0 * b0 + b1 * b1 + b2 * b2) / SLOT
            weight += stiffness * (liquid - brim)
        surface, slope = surface_of(liquid, h, slope, mean, gauss, wall.bend[i], wall.bent[i])
        film_height = saturated(surface, knee)
        lift = saturated_slope(surface, knee) / slope
        bend = 2.0 * sigma * (gauss * film_height - mean) * terms.wall_curvature
        work.thickness[i] = h
        work.depth[i] = depth
        work.capillary[i] = film_height
        work.lift[i] = lift
        work.pressure[i] = rho * potential + weight + bend * lift
        work.stiffness[i] = stiffness
        if depth > DRY:
            work.mobile[i] = mobility_slope(depth, film.viscosity[i], terms.mobility_cap) * per_volume
        else:
            work.mobile[i] = 0.0
    meet(team)
    if sigma > 0.0:
        add_capillary(team, wall, work, sigma)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def add_capillary(team: Team, wall: Wall, work: Work, sigma: float) -> None:
    """Adds the film's own curvature, the gradient of sigma/2 sum of w (h_i - h_j)^2, to the pressure."""
    first, last = share(team, wall.area.size)
    for i in range(first, last):
        here, pull = work.capillary[i], 0.0
        for k in range(wall.start[i], wall.start[i + 1]):
            pull += wall.weight[wall.edge[k]] * (here - work.capillary[wall.other[k]])
        work.pressure[i] += sigma * work.lift[i] * pull / wall.area[i]
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def fluxes(
    team: Team,
    wall: Wall,
    volume: Floats,
    film: Film,
    work: Work,
    fluid: Fluid,
    terms: Terms,
    body: Body,
    thick: float,
    flux: Floats,
    coupling: Floats,
    drag: Floats,
) -> None:
    """Flux, coupling and drag of every edge.

    The donor is the node at the higher pressure. Where both nodes carry a film between THINNEST_SECOND and
    `thick` [m] the face's thickness is extrapolated from the donor (see `face_thickness`); else it is the
    donor's. The Euler term, which has no potential, adds rho dw/dt . (x_i x x_j) to the pressure difference.
    """
    rho = fluid.density
    t0, t1, t2 = rho * body.turn[0], rho * body.turn[1], rho * body.turn[2]
    turning = t0 != 0.0 or t1 != 0.0 or t2 != 0.0
    c0, c1, c2 = body.crossing
    second = terms.second_order > 0.0
    cap = terms.mobility_cap
    first, last = share(team, wall.tail.size)
    for e in range(first, last):
        i, j = wall.tail[e], wall.head[e]
        drop = work.pressure[i] - work.pressure[j]
        if turning:
            x0, x1, x2 = wall.x[i, 0] - c0, wall.x[i, 1] - c1, wall.x[i, 2] - c2
            y0, y1, y2 = wall.x[j, 0] - c0, wall.x[j, 1] - c1, wall.x[j, 2] - c2
            drop -= t0 * (x1 * y2 - x2 * y1) + t1 * (x2 * y0 - x0 * y2) + t2 * (x0 * y1 - x1 * y0)
        if drop >= 0.0:
            donor, receiver, column = i, j, 0
        else:
            donor, receiver, column = j, i, 2
        depth = work.depth[donor]
        if volume[donor] <= DRY or depth <= DRY:
            flux[e] = 0.0
            coupling[e] = 0.0
            drag[e] = 0.0
            continue
        face = depth
        if second and THINNEST_SECOND < depth < thick:
            ahead = work.depth[receiver]
            if THINNEST_SECOND < ahead < thick:
                a, b = wall.upwind[e, column], wall.upwind[e, column + 1]
                s, t = wall.span[e, column], wall.span[e, column + 1]
                back = s * work.depth[a] + t * work.depth[b]
                rise = ahead - depth
                run = depth * (s + t) - back
                face = face_thickness(depth, run, rise)
        c = wall.weight[e] * mobility(face, film.viscosity[donor], cap)
        d = wall.weight[e] * work.mobile[donor] * drop
        flux[e] = c * drop
        coupling[e] = c
        drag[e] = d
    meet(team)


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def sum_up(team: Team, wall: Wall, work: Work) -> None:
    """Sums of flux, coupling and drag over the edges of every node."""
    flux, coupling, drag = work.flux, work.coupling, work.drag
    first, last = share(team, wall.area.size)
    for i in range(first, last):
        net = conductance = slide = 0.0
        for k in range(wall.start[i], wall.start[i + 1]):
            e = wall.edge[k]
            away = wall.other[k] > i  # the node is the edge's tail
            net += flux[e] if away else -flux[e]
            conductance += coupling[e]
            d = drag[e] if away else -drag[e]
            slide += max(d, 0.0)
        work.net[i] = net
        work.conductance[i] = conductance
        work.slide[i] = slide
    meet(team)
